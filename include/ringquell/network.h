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

struct Element {
    std::string
        name;  // the case's key without a position: "gate_path.inductance", "device.package.gate", ...
    int position = 0;  // from 1; 0 for shared parts
    ElementKind kind = ElementKind::resistance;
    double value = 0;         // ohm, S, H, F: what the network stamps
    bool reciprocal = false;  // value = 1/(scale·key) (a resistance stamped as a conductance), else scale·key
    double scale = 1;
    Incidence left, right;        // capacitance and inductance: equal
    int slot = 0;                 // equal for the same element of all positions
    int first = -1, second = -1;  // of a coupling's mutual inductance: the elements it couples
    bool in_e() const {
        return kind == ElementKind::inductance || kind == ElementKind::capacitance ||
               kind == ElementKind::mutual;
    }
    /// "gate_path[2].inductance"; shared parts as they are.
    std::string label() const;
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
    int slots = 0;

    int size() const { return static_cast<int>(unknowns.size()); }
    /// E and A in SI units.
    Eigen::SparseMatrix<double> e() const;
    Eigen::SparseMatrix<double> a() const;
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
};

/// True where all positions, the rails and the couplings are alike, so that the network splits into one
/// common and one differential block.
bool positions_alike(const Case& input, const OperatingPoint& point);

/// Builds the network. Throws InputError where a coupling makes the inductance matrix indefinite (the
/// coupling is named), where a coupling names an inductance that is not there, or where nothing holds a node.
Network build_network(const Case& input, const OperatingPoint& point, const NetworkOptions& options = {});

/// The element name of the gate resistor that the edge really uses at a position (from 0):
/// `gate_path.resistor`, or `gate_path.diode.resistor` on the edge on which the diode conducts.
std::string gate_resistor_element(const Case& input, Edge edge, int position = 0);

}  // namespace ringquell
