// All that a page shows, before it is HTML and JSON.
#pragma once

#include <optional>
#include <string>
#include <vector>

#include "page/drawing.h"
#include "report/values.h"
#include "review/damping_plane.h"
#include "review/gate_sweep.h"
#include "review/mode_shape.h"
#include "review/snubber_map.h"
#include "ringquell/page.h"

namespace ringquell::internal {

/// A bead and where it is fitted.
struct PlacedBead {
    Bead bead;
    std::string key;  // "gate_path.bead"
    std::vector<int> positions;
};

struct PageData {
    std::string made;                    // date and time
    std::string file, case_text, hash;   // of the case; the hash is of its text
    Explanation explanation;             // with the check's result
    EnergyShares energy;                 // of the worst mode, by element; sums to 1
    size_t drawn_point = 0;              // of the drawings: where the worst mode is
    std::optional<NetworkEcho> network;  // there; empty without points
    std::vector<GateSweep> sweeps;
    std::vector<DampingPlane> planes;
    SnubberMap snubbers;
    std::vector<ModeShape> shapes;
    Ring ring;
    std::vector<PlacedBead> beads;
    // Where they were asked and take no longer than a page can wait.
    std::vector<BeadCandidate> candidates;  // that `choice` compares
    std::optional<Choice> choice;
    std::optional<std::vector<Varied>> budget;
    std::optional<SpreadResult> spread;

    const CheckResult& result() const { return explanation.result; }
};

/// An element's name without the number of its position or of its segment of a rail: gate_path[2].inductance,
/// device[2].package.gate, buses.drain[1].inductance. A coupling keeps its number, a bead's section, too.
std::string without_position(std::string name);
/// A mode's energy by element name; elements of different positions and segments of a rail are one.
EnergyShares energy_shares(const ExplainedMode& mode);

PageData page_data(const Case& input, const PageOptions& options);

/// The modes of `explain`, the least of their elements left out. Where an element stands at several positions
/// or segments, `by_element` has it once, with sums and with each of these.
Json explained_value(const Explanation& explanation);

/// A check with the modes thinned and equal devices named once.
Json thinned_check(const CheckResult& result, const NetworkEcho* echo = nullptr);
/// Numbers to seven digits: more than any board will keep, and a third of the page.
void shorten(Json& value);

/// What the page's script draws from.
Json page_value(const PageData& data);

}  // namespace ringquell::internal
