// The small-signal network of a case at one operating point, as the pencil E·dx/dt = A·x with named rows.
//
// Unknowns x (V, A):
//   * the voltage of every capacitance in a spanning forest of the capacitances (largest first);
//   * the potential of every node group that no capacitance joins to the reference (row: the sum of currents
//   there);
//   * the current of every series string that holds an inductance or a resistance.
// Everything is then a sum of elements of known rank:
//   E = Σ value·l·rᵀ (capacitances: l = r = the incidence d; inductances: l = r = the unit vector of the
//   current; mutual inductances: l·rᵀ + r·lᵀ),   A = A0 − Σ value·l·rᵀ (resistances in series, conductances,
//   transconductances),
// and A0 holds only ±1. The capacitances' voltages as unknowns keep small capacitances beside large ones
// exact.
#pragma once

#include <Eigen/SparseCore>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/element_kind.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// Sparse vector of ±1 over the unknowns.
using Incidence = std::vector<std::pair<int, double>>;

/// How a number of the network follows from a case and a point of its path: a row of docs/model.md as code.
/// Without a function there is none.
struct Rule {
    struct At {
        const Case& input;
        const OperatingPoint& point;
        size_t position;  // from 0; 0 for shared parts
        size_t index;     // of several alike: a bead's section, a bus's segment, a coupling; from 0
        const Position& own() const { return input.positions[position]; }
        const DeviceValues& device() const { return point.device(static_cast<int>(position)); }
    };
    double (*number)(const At&) = nullptr;  // SI
    size_t index = 0;
    /// `position`: from 1, 0 for shared parts, as an element has it.
    double operator()(const Case& input, const OperatingPoint& point, int position) const {
        return number({input, point, position > 0 ? static_cast<size_t>(position) - 1 : 0, index});
    }
};

/// From the number of a rule to the value that the network stamps, and back: value = scale·number, or
/// 1/(scale·number) where a resistance is stamped as a conductance.
struct Stamping {
    bool reciprocal = false;
    double scale = 1;
    double value_of(double number) const { return reciprocal ? 1 / (scale * number) : scale * number; }
    double number_of(double value) const { return reciprocal ? 1 / (scale * value) : value / scale; }
};

struct Element : Stamping {
    /// The case's key without a position: "gate_path.inductance", "device.package.gate", ...
    std::string name;
    int position = 0;  // from 1; 0 for shared parts
    ElementKind kind = ElementKind::resistance;
    double value = 0;             // ohm, S, H, F: what the network stamps
    Incidence left, right;        // capacitance and inductance: equal
    int slot = 0;                 // equal for the same element of all positions
    int first = -1, second = -1;  // of a coupling's mutual inductance: the elements it couples
    /// The coupling's number is k of M = k·√(L_first·L_second), which stands in `scale`; else it is M.
    bool by_coefficient = false;
    Rule rule;
    /// The number that the value came from.
    double number() const { return number_of(value); }
    /// Of the number: resistance where one is stamped as a conductance.
    ElementKind number_kind() const { return reciprocal ? ElementKind::resistance : kind; }
    bool in_e() const {
        return kind == ElementKind::inductance || kind == ElementKind::capacitance ||
               kind == ElementKind::mutual;
    }
    /// What remains of two coupled windings for a current that goes through one and returns through the
    /// other: a mutual inductance that is part of its pair, not a coupling between two elements.
    bool is_leakage() const { return kind == ElementKind::mutual && first < 0; }
    /// "gate_path[2].inductance"; shared parts as they are.
    std::string label() const;
};

/// A part that is no element here, since its number makes it a wire or open.
struct AbsentPart {
    ElementKind kind;
    int position;
    Rule rule;
};

/// Two nodes between which a current is fed in and the voltage is read.
struct Port {
    std::string from, to;
    /// The voltage v(from) − v(to) is Σ sign·x; a current into `from` and out of `to` enters the same rows with
    /// the same signs.
    Incidence across;
};

struct Unknown {
    std::string name;  // "voltage device.cgs[1]", "current gate_path[1]", "potential ..."
    int position = 0;
    bool is_current = false;
};

/// What is joined to what: one branch between two nodes, for people.
struct Joint {
    std::string name;
    int position = 0;
    std::string from, to;
    std::vector<size_t> elements;  // indices into Network::elements
};

struct Network {
    std::vector<Joint> joints;  // only where NetworkOptions::describe asks for them
    std::vector<Unknown> unknowns;
    std::vector<Element> elements;
    std::vector<Eigen::Triplet<double>> constant;  // A0
    std::vector<AbsentPart> absent;
    std::vector<Port> ports;  // those that NetworkOptions asks for
    int slots = 0;

    int size() const { return static_cast<int>(unknowns.size()); }
    /// E and A in SI units.
    Eigen::SparseMatrix<double> e() const;
    Eigen::SparseMatrix<double> a() const;
    /// Of E·dx/dt = A·x + B·u, u the currents into the ports; a column for each. The ports' voltages are
    /// y = Bᵀ·x, so that Bᵀ·(sE − A)⁻¹·B is their impedance matrix.
    Eigen::SparseMatrix<double> b() const;
};

/// What part of the symmetric whole a network describes.
enum class Block {
    whole,   // all positions
    common,  // one position standing for N alike ones that move together; shared impedances count N times
    differential,  // one position whose rails are virtual shorts
};

/// What an engineer seeks values of: the element is kept in the network even where its value is zero.
struct NetworkOptions {
    Block block = Block::whole;
    /// Keep the gate resistor of the edge (or, where a diode conducts, the diode's resistor) as an element
    /// even at zero.
    bool keep_gate_resistor = false;
    /// Fill Network::joints.
    bool describe = false;
    /// Fill Network::ports: pairs of nodes as Joint names them, such as {"gate[1]", "source[1]"} (the chip),
    /// {"gate pin[1]", "Kelvin pin[1]"} or {"drain rail", "source rail"}.
    std::vector<std::pair<std::string, std::string>> ports{};
    bool operator==(const NetworkOptions&) const = default;
};

/// True where all positions, the rails and the couplings are alike and no probe is hung on, so that the network
/// splits into one common and one differential block.
bool positions_alike(const Case& input, const OperatingPoint& point);

/// Builds the network. Throws InputError where a coupling makes the inductance matrix indefinite (the
/// coupling is named), where a coupling names an inductance that is not there, where nothing holds a node, or
/// where a port or a probe names a node that the network does not have, or a probe the same node twice.
Network build_network(const Case& input, const OperatingPoint& point, const NetworkOptions& options = {});

/// The nodes as people know them, sorted: those that something joins, without the ends of parts inside a string.
std::vector<std::string> node_names(const Case& input, const OperatingPoint& point);

/// The element name of the gate resistor that the edge really uses at a position (from 0):
/// `gate_path.resistor`, or `gate_path.diode.resistor` on the edge on which the diode conducts.
std::string gate_resistor_element(const Case& input, Edge edge, int position = 0);
/// Indices of these elements of a network of the case: one for each position that it holds.
std::vector<size_t> gate_resistor_elements(const Network& network, const Case& input, Edge edge);

}  // namespace ringquell
