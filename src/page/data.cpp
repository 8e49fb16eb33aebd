#include "page/data.h"

#include <algorithm>
#include <filesystem>

#include "ringquell/cure.h"
#include "ringquell/write_case.h"

namespace ringquell::internal {

namespace {

constexpr int few_uneven = 8;  // positions up to which budget and passing values take seconds

/// Beads that differ, with where they are.
std::vector<PlacedBead> placed_beads(const Case& input) {
    std::vector<PlacedBead> out;
    for (int k = 1; k <= input.n(); ++k) {
        const Position& p = input.positions[static_cast<size_t>(k - 1)];
        for (const auto& [bead, key] : {std::pair{&p.gate_path.bead, "gate_path.bead"},
                                        std::pair{&p.kelvin().bead, "kelvin_path.bead"}}) {
            if (!*bead) continue;
            const auto same = std::find_if(
                out.begin(), out.end(),
                [&bead = bead, &key = key](const PlacedBead& s) { return s.bead == **bead && s.key == key; });
            if (same != out.end())
                same->positions.push_back(k);
            else
                out.push_back({**bead, key, {k}});
        }
    }
    constexpr size_t most = 6;  // a board with more different beads is a table, not a plot
    if (out.size() > most) out.resize(most);
    return out;
}

}  // namespace

std::string without_position(std::string name) {
    const size_t open = name.find('['), dots = name.starts_with("buses.") ? 6 : 0;
    if (open != std::string::npos && open < name.find('.', dots) && !name.starts_with("couplings"))
        name.erase(open, name.find(']') - open + 1);
    return name;
}

EnergyShares energy_shares(const ExplainedMode& mode) {
    EnergyShares out;
    for (const ExplainedElement& element : mode.elements) {
        if (element.share.energy_share == 0) continue;
        out[without_position(element.share.key)] += element.share.energy_share;
    }
    return out;
}

PageData page_data(const Case& input, const PageOptions& options) {
    PageData out;
    CheckResult checked = check(input, options.check);
    add_first_cure(input, checked);
    const bool alike = std::all_of(checked.points.begin(), checked.points.end(),
                                   [](const PointResult& r) { return r.modes.by_blocks(); });
    const bool quick = alike || input.n() <= few_uneven;
    const bool budget = options.budget.value_or(quick);
    out.explanation = explain_checked(input, std::move(checked), {.passing_values = budget});
    const CheckResult& result = out.result();
    if (const FoundMode* worst = mode_in_question(result)) {
        out.drawn_point = worst->point;
        for (const ExplainedMode& mode : out.explanation.modes)
            if (mode.found.mode.kind == worst->mode.kind) out.energy = energy_shares(mode);
    }
    out.made = options.made;
    out.file = std::filesystem::path(input.file).filename().string();
    out.case_text = write_case(input);
    out.hash = text_hash(out.case_text);
    if (!result.points.empty()) out.network = network_echo(input, result.points[out.drawn_point].point);
    out.sweeps = sweep_gate_resistors(input, result);
    out.planes = damping_planes(input, result);
    out.snubbers = snubber_map(input, result);
    out.shapes = mode_shapes(input, result);
    out.ring = ring_after_disturbance(input, result);
    out.beads = placed_beads(input);
    if (quick) {
        ChooseOptions choosing;
        choosing.beads = options.beads;
        choosing.switching_frequency_hz = options.switching_frequency_hz;
        out.choice = choose(input, choosing);
        out.candidates = options.beads;
    }
    if (budget) {
        out.budget.emplace();
        for (const std::string& key : layout_keys(input))
            out.budget->push_back(acceptable_values(input, {key}));
    }
    if (!input.spread.empty() && options.samples > 0) {
        SpreadOptions spreading;
        spreading.samples = options.samples;
        spreading.seed = options.seed;
        spreading.threads = options.threads;
        out.spread = spread(input, spreading);
    }
    return out;
}

}  // namespace ringquell::internal
