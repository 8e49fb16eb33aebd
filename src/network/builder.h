// Private to the network stage: nodes, series strings of parts, and how they become unknowns and elements.
#pragma once

#include <array>
#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/network.h"

namespace ringquell::internal {

using NumberOf = double (*)(const Rule::At&);

/// One part of a series string, its number by rule. A resistance or inductance of zero is a wire, a capacitance
/// of zero is open.
struct Part {
    enum class Kind { resistance, inductance, capacitance, winding, parallel };
    Kind kind = Kind::resistance;
    std::string name;  // of the element
    Rule rule{};
    std::vector<std::vector<Part>> branches{};  // of Kind::parallel: strings side by side
    bool keep = false;          // a resistance that stays an element at zero, because its value is sought
    size_t pair = 0, side = 0;  // of Kind::winding: which of couple_windings(), and which of its two
};

inline Part resistance(std::string name, NumberOf ohm, size_t index = 0) {
    return {Part::Kind::resistance, std::move(name), {ohm, index}};
}
inline Part inductance(std::string name, NumberOf henry, size_t index = 0) {
    return {Part::Kind::inductance, std::move(name), {henry, index}};
}
inline Part capacitance(std::string name, NumberOf farad, size_t index = 0) {
    return {Part::Kind::capacitance, std::move(name), {farad, index}};
}
/// A current of its own, whose inductances come with the pair.
inline Part winding(std::string name, size_t pair, size_t side) {
    return {Part::Kind::winding, std::move(name), {}, {}, false, pair, side};
}
inline Part parallel(std::vector<std::vector<Part>> branches) {
    return {Part::Kind::parallel, {}, {}, std::move(branches)};
}

/// Is a part with this number an element, or else a wire or open?
inline bool stands(ElementKind kind, double number) {
    // Less than this is a wire: no conductor of a board is known so well, and 1/R would drown every other
    // number in rounding.
    constexpr double negligible_ohm = 1e-9;
    return kind == ElementKind::resistance ? number > negligible_ohm : number != 0;
}

/// From one node to another.
struct Between {
    int from, to;
};

/// Collects the branches between named nodes, then chooses unknowns and stamps elements.
class NetworkBuilder {
  public:
    /// What the rules are applied to, and the node whose potential is zero.
    NetworkBuilder(const Case& input, const OperatingPoint& point, const std::string& reference)
        : input_(input), point_(point), reference_(node(reference)) {}

    const Case& input() const { return input_; }
    const OperatingPoint& point() const { return point_; }

    int node(const std::string& name);
    /// A node that something placed so far joins; none of that name: nothing.
    std::optional<int> joined_node(const std::string& name);
    bool same(int a, int b) { return root(a) == root(b); }
    void wire(int a, int b);
    /// Parts in series from a to b; all resistances and inductances of a string share one current. `scale`:
    /// what the impedance is multiplied by (shared parts of the common block: N).
    void series(const std::string& name, int position, int a, int b, const std::vector<Part>& parts,
                double scale = 1);
    /// conductance·v(across) along `across`.
    void conductance(const std::string& name, int position, Between across, NumberOf siemens);
    /// transconductance·v(control) along `across`.
    void transconductance(const std::string& name, int position, Between across, Between control,
                          NumberOf siemens);
    /// Two equal windings, coupled so that a current which goes through one and returns through the other sees
    /// `leakage` alone: E gains inductance·(g − k)(g − k)ᵀ and leakage/2·(g kᵀ + k gᵀ), with g and k the unit
    /// vectors of the two currents. Gives the number of the pair, which winding(..., 0) and winding(..., 1)
    /// name.
    size_t couple_windings(int position, const Part& inductance, const Part& leakage);

    /// Turns all branches into unknowns and elements.
    Network finish(const NetworkOptions& options);

  private:
    struct Stamp {
        ElementKind kind;
        std::string name;
        Rule rule;
        double number;
        double scale;
        double value() const { return scale * number; }
    };
    struct Branch {  // an inductive string or a single capacitance or conductance
        enum class Kind { current, capacitance, conductance, transconductance } kind;
        std::string name;
        int position;
        Between at;
        std::vector<Stamp> stamps;
        Between control{-1, -1};
        bool keep = false;
        int unknown = -1;
    };
    struct WindingPair {
        int position;
        Stamp inductance, leakage;
        std::array<size_t, 2> branches{};  // filled in where the windings are placed
    };
    /// Which capacitance joins a node to which other, in the spanning forest.
    using Forest = std::vector<std::vector<std::pair<int, size_t>>>;

    double number(const Rule& rule, int position) const { return rule(input_, point_, position); }
    Stamp stamp_of(ElementKind kind, const Part& part, int position, double scale) const;
    int root(int node);
    void check_held();
    void place(const Part& part, const Branch& within, double scale);
    void choose_unknowns(Network& network);
    Forest span_capacitances(Network& network);
    void set_potentials(Network& network, const Forest& forest);
    void walk(int start, const Forest& forest, std::vector<bool>& seen);
    Incidence difference(Between nodes) const;
    void stamp(Network& network, bool describe);
    void stamp(const Branch& branch, Network& network);
    void stamp(const WindingPair& pair, Network& network);
    void add(Network& network, const Stamp& stamp, int position, Incidence left, Incidence right);
    void open_ports(Network& network, const NetworkOptions& options);

    const Case& input_;
    const OperatingPoint& point_;
    std::map<std::string, int> node_numbers_;
    std::vector<std::string> node_names_;
    std::vector<int> parent_;
    std::vector<Branch> branches_;
    std::vector<WindingPair> pairs_;
    std::vector<AbsentPart> absent_;
    std::vector<Incidence> potential_;  // of every merged node, over the unknowns
    std::map<std::string, int> slots_;
    int reference_;
    int inner_nodes_ = 0;
};

}  // namespace ringquell::internal
