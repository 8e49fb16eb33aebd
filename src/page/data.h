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
    std::vector<ModeShape> shapes;
    Ring ring;
    std::vector<PlacedBead> beads;
    // Where they were asked and take no longer than a page can wait.
    std::optional<Choice> choice;
    std::optional<std::vector<Varied>> budget;
    std::optional<SpreadResult> spread;

    const CheckResult& result() const { return explanation.result; }
};

/// A mode's energy by element name; elements of different positions and segments of a rail are one.
EnergyShares energy_shares(const ExplainedMode& mode);

PageData page_data(const Case& input, const PageOptions& options);

/// What the page's script draws from.
Json page_value(const PageData& data);

}  // namespace ringquell::internal
