#include "ringquell/check.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <memory>

#include "estimates/walked_modes.h"
#include "modes/effort.h"
#include "modes/examine.h"
#include "modes/ranking.h"
#include "network/reducer.h"
#include "review/assumed.h"
#include "review/edge_sizing.h"
#include "review/measured_modes.h"
#include "review/parallel.h"
#include "review/warnings.h"

namespace ringquell {

using namespace internal;

const FoundMode* mode_in_question(const CheckResult& result) {
    const auto& differential = result.worst_differential;
    const auto& common = result.worst_common;
    if (!differential ||
        (common && misses(common->mode, result.require) && !misses(differential->mode, result.require)))
        return common ? &*common : differential ? &*differential : nullptr;
    return &*differential;
}

namespace {

class Checker {
  public:
    Checker(const Case& input, const CheckOptions& options)
        : input_(input), options_(options), solver_(input, options.method) {}

    CheckResult run() {
        out_.require = input_.require;
        out_.title = input_.title;
        out_.positions = input_.n();
        out_.warnings = input_.warnings;
        describe_board();
        OperatingPath path = operating_path(input_);
        out_.warnings.insert(out_.warnings.end(), path.warnings.begin(), path.warnings.end());
        const std::vector<size_t> measured_at = measured_points(input_, path.points);
        solve(std::move(path.points));
        out_.measured = measured_modes(input_, measured_at, out_.points);
        judge();
        follow();
        decide();
        out_.assumed = weigh_assumed(input_, out_);
        judge_gain();
        if (options_.size_gate_resistor) size();
        warn();
        return std::move(out_);
    }

  private:
    void describe_board() {
        const auto every = [&](auto test) {
            return std::all_of(input_.positions.begin(), input_.positions.end(), test);
        };
        out_.has_beads = every([](const Position& p) { return p.gate_path.bead.has_value(); });
        out_.has_snubbers =
            every([](const Position& p) { return p.snubber && p.snubber->capacitance_f > 0; });
        out_.bare_dice = every([](const Position& p) { return p.device.package == Package{}; });
        const auto& drive = input_.operation.drive;
        out_.drive_is_step = !drive || (!drive->rise_s && !drive->fall_s);
    }

    /// Points with the same network, as every step of a walk with fixed values, are solved once; large uneven
    /// networks on all processors. Each point's result depends on nothing that was solved before it.
    void solve(std::vector<OperatingPoint> points) {
        const std::vector<size_t> same = first_of_network(points, [](const OperatingPoint&) { return true; });
        std::vector<size_t> distinct;
        for (size_t i = 0; i < points.size(); ++i)
            if (same[i] == i) distinct.push_back(i);
        std::vector<Modes> modes(points.size());
        const bool uneven = std::any_of(distinct.begin(), distinct.end(),
                                        [&](size_t k) { return !solver_.alike(points[k]); });
        if (uneven && input_.n() >= points_in_parallel_from && distinct.size() > 1) {
            on_all_processors(
                distinct.size(), [this] { return std::make_unique<ModeSolver>(input_, options_.method); },
                [&](ModeSolver& solver, size_t k) {
                    modes[distinct[k]] = solver.solve(points[distinct[k]]);
                });
        } else {
            for (const size_t k : distinct) modes[k] = solver_.solve(points[k]);
        }
        for (size_t i = 0; i < points.size(); ++i) {
            out_.condition = std::max(out_.condition, modes[same[i]].condition);
            out_.points.push_back({std::move(points[i]), modes[same[i]]});
        }
    }

    FoundMode examined(size_t i, const Mode& mode) {
        return examine(input_, out_.points[i].point, solver_.alike(out_.points[i].point), mode, i);
    }

    void judge() {
        out_.worst_differential = worst(ModeKind::differential);
        out_.worst_common = worst(ModeKind::common);
        find_growing();
    }

    /// Of the points judged held, what is nearest to its target or falls shortest of it.
    std::optional<FoundMode> worst(ModeKind kind) {
        const Mode* worst = nullptr;
        size_t where = 0;
        for (size_t i = 0; i < out_.points.size(); ++i) {
            const PointResult& r = out_.points[i];
            if (!r.point.judged) continue;
            const Mode* mode = nearest_to_target(r.modes.modes, kind, input_.require);
            if (mode == nullptr) continue;
            if (worst != nullptr &&
                damping_margin(*mode, input_.require) >= damping_margin(*worst, input_.require))
                continue;
            worst = mode;
            where = i;
        }
        if (worst == nullptr) return std::nullopt;
        return examined(where, *worst);
    }

    /// A mode whose sign is not certain decides nothing.
    void find_growing() {
        std::vector<FoundMode> found;
        for (size_t i = 0; i < out_.points.size(); ++i) {
            if (!out_.points[i].point.judged) continue;
            for (const Mode& mode : out_.points[i].modes.modes)
                if (grows(mode)) found.push_back({i, mode, {}});
        }
        std::stable_sort(found.begin(), found.end(), [](const FoundMode& a, const FoundMode& b) {
            return a.mode.eigenvalue.real() > b.mode.eigenvalue.real();
        });
        // Beyond so many eigenpairs only the fastest are refined, and those whose sign an uncertainty could
        // turn that stays within the condition at which a point is refused.
        constexpr size_t most_refined = 2000;  // positions times modes
        constexpr double clearly = 1e-3;       // damping
        size_t refined = 0;
        for (FoundMode& g : found) {
            const bool few = refined * static_cast<size_t>(input_.n()) < most_refined;
            if (few || -g.mode.damping_ratio() < clearly) {
                g = examined(g.point, g.mode);
                ++refined;
                if (!certainly_grows(g)) continue;
            }
            out_.growing.push_back(std::move(g));
        }
    }

    /// How far the worst modes, what grows and the passages meet what is asked.
    void decide() {
        const auto target = [&](const FoundMode& m) { return damping_target(m.mode, input_.require); };
        const auto short_of = [&](const std::optional<FoundMode>& m) {
            return m && target(*m) > 0 && m->mode.damping_ratio() < target(*m);
        };
        const auto unsure = [&](const std::optional<FoundMode>& m) {
            return m && target(*m) > 0 &&
                   std::abs(m->mode.damping_ratio() - target(*m)) <= m->damping_uncertainty;
        };
        const auto& differential = out_.worst_differential;
        const auto& common = out_.worst_common;
        const bool clearly_fails = !out_.growing.empty() || !all_pass(out_.passages.passages) ||
                                   (short_of(differential) && !unsure(differential)) ||
                                   (short_of(common) && !unsure(common));
        if (clearly_fails) {
            out_.verdict = Verdict::fail;
        } else if (unsure(differential) || unsure(common)) {
            // A margin smaller than its own uncertainty is no verdict.
            out_.verdict = Verdict::undecided;
            const FoundMode& m = unsure(differential) ? *differential : *common;
            out_.undecided_reason = fmt::format(
                "the damping {:.6g} at \"{}\" differs from its target by less than its numerical uncertainty "
                "{:.1e}",
                m.mode.damping_ratio(), out_.points[m.point].point.name, m.damping_uncertainty);
        }
    }

    void judge_gain() {
        const auto& asked = input_.require.gain_margin;
        if (asked) out_.grows_at_required_gain = grows_with_gain(solver_, out_.points, *asked);
        if (out_.grows_at_required_gain) out_.verdict = Verdict::fail;
        if (options_.gain_margin) out_.gain_margin = gain_margin(solver_, out_.points, asked.has_value());
    }

    void size() {
        for (Edge edge : {Edge::turn_on, Edge::turn_off})
            if (std::any_of(out_.points.begin(), out_.points.end(),
                            [&](const PointResult& r) { return r.point.edge == edge && r.point.judged; }))
                out_.gate_resistance[edge] = size_edge(solver_, out_.points, edge, options_);
    }

    void follow() {
        WalkedModes walked;
        for (const PointResult& r : out_.points) walked.add(r.point, r.modes);
        if (options_.follow_modes || walked.grows_in_passing()) out_.families = walked.follow(input_);
        out_.passages = walked.pass(input_, out_.families);
        for (auto* found : {&out_.worst_differential, &out_.worst_common})
            if (*found) (*found)->family = family_of(out_.families, (*found)->point, (*found)->mode);
    }

    void warn() {
        const auto append = [&](const std::vector<Warning>& more) {
            out_.warnings.insert(out_.warnings.end(), more.begin(), more.end());
        };
        append(layout_warnings(input_));
        append(result_warnings(input_, out_));
        const auto about = [&](const std::optional<FoundMode>& m, const char* kind) {
            if (m && m->mode.mixed())
                out_.warnings.push_back(
                    {"positions", fmt::format("the worst {} mode is mixed (common share {:.2f}): the layout "
                                              "is too uneven for it to be one kind or the other",
                                              kind, m->mode.common_share)});
        };
        about(out_.worst_differential, "differential");
        about(out_.worst_common, "common");
        for (const auto& found : {out_.worst_differential, out_.worst_common})
            if (found && out_.points[found->point].point.cgd_below_table) {
                out_.warnings.push_back(
                    {"device.capacitance.table",
                     fmt::format("at `{}`, where the worst mode is, a die's gate stands above its drain by "
                                 "more than the "
                                 "table holds: its cgd counts as that of the first row, and may be larger",
                                 out_.points[found->point].point.name)});
                break;
            }
        for (const FoundMode& g : out_.growing)
            if (g.mode.natural_frequency_hz() > input_.require.band_high_hz) {
                out_.warnings.push_back({"require.band",
                                         "a growing mode lies above the band: lumped elements and missing "
                                         "losses make it doubtful, but it fails all the same"});
                break;
            }
    }

    const Case& input_;
    CheckOptions options_;
    ModeSolver solver_;
    CheckResult out_;
};

}  // namespace

CheckResult check(const Case& input, const CheckOptions& options) {
    return Checker(input, options).run();
}

}  // namespace ringquell
