// Private to the network stage: nodes, series strings of parts, and how they become unknowns and elements.
#pragma once

#include <map>
#include <string>
#include <vector>

#include "ringquell/network.h"

namespace ringquell::internal {

/// One part of a series string. A resistance or inductance of zero is a wire, a capacitance of zero is open.
struct Part {
    enum class Kind { resistance, inductance, capacitance, winding, parallel };
    Kind kind = Kind::resistance;
    std::string name;  // of the element
    double value = 0;
    std::vector<std::vector<Part>> branches{};  // of Kind::parallel: strings side by side
    bool keep = false;  // a resistance that stays an element at zero, because its value is sought
};

inline Part resistance(std::string name, double ohm) {
    return {Part::Kind::resistance, std::move(name), ohm};
}
inline Part inductance(std::string name, double henry) {
    return {Part::Kind::inductance, std::move(name), henry};
}
inline Part capacitance(std::string name, double farad) {
    return {Part::Kind::capacitance, std::move(name), farad};
}
/// A current of its own, whose inductances are stamped afterwards (a choke's winding).
inline Part winding(std::string name) {
    return {Part::Kind::winding, std::move(name), 0};
}
inline Part parallel(std::vector<std::vector<Part>> branches) {
    return {Part::Kind::parallel, {}, 0, std::move(branches)};
}

/// The share of a bead's inductance and resistance that a bias leaves: linear between the points, constant
/// beyond them.
double saturation_left(const Bead& bead, double gate_current_a);

/// Collects the branches between named nodes, then chooses unknowns and stamps elements.
class NetworkBuilder {
  public:
    explicit NetworkBuilder(const std::string& reference) : reference_(node(reference)) {}

    int node(const std::string& name);
    void wire(int a, int b);
    /// Parts in series from a to b; all resistances and inductances of a string share one current. `scale`:
    /// what the impedance is multiplied by (shared parts of the common block: N).
    void series(const std::string& name, int position, int a, int b, const std::vector<Part>& parts,
                double scale = 1);
    /// conductance·v(a, b) from a to b.
    void conductance(const std::string& name, int position, int a, int b, double siemens);
    /// transconductance·v(control_a, control_b) from a to b.
    void transconductance(const std::string& name, int position, int a, int b, int control_a, int control_b,
                          double siemens);
    /// Two windings whose go-and-return current sees `leakage_h` alone: E gains inductance·(g − k)(g − k)ᵀ
    /// and leakage/2·(g kᵀ + k gᵀ), with g and k the unit vectors of the two currents.
    void choke(int position, double inductance_h, double leakage_h);

    /// Turns all branches into unknowns and elements.
    Network finish(bool describe = false);

  private:
    struct Stamp {
        ElementKind kind;
        std::string name;
        double value;
        double scale;
    };
    struct Branch {  // an inductive string or a single capacitance or conductance
        enum class Kind { current, capacitance, conductance, transconductance } kind;
        std::string name;
        int position;
        int a, b;
        std::vector<Stamp> stamps;
        int control_a = -1, control_b = -1;
        bool keep = false;
        int unknown = -1;
    };
    struct Choke {
        int position;
        double inductance_h, leakage_h;
    };

    int root(int node);
    void choose_unknowns(Network& network);
    Incidence difference(int a, int b) const;
    void stamp(Network& network, bool describe);
    void check_held();

    std::map<std::string, int> node_numbers_;
    std::vector<std::string> node_names_;
    std::vector<int> parent_;
    std::vector<Branch> branches_;
    std::vector<Choke> chokes_;
    std::vector<Incidence> potential_;  // of every merged node, over the unknowns
    int reference_;
    int inner_nodes_ = 0;
};

}  // namespace ringquell::internal
