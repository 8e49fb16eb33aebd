#include "ringquell/check.h"

#include <fmt/format.h>
#include <tbb/blocked_range.h>
#include <tbb/enumerable_thread_specific.h>
#include <tbb/parallel_for.h>

#include <algorithm>
#include <cmath>
#include <exception>

#include "modes/examine.h"
#include "network/reducer.h"
#include "review/edge_sizing.h"
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
        solve(std::move(path.points));
        judge();
        follow();
        decide();
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
        std::vector<size_t> same(points.size()), distinct;
        for (size_t i = 0; i < points.size(); ++i) {
            const auto before = std::find_if(distinct.rbegin(), distinct.rend(),
                                             [&](size_t k) { return same_network(points[k], points[i]); });
            same[i] = before == distinct.rend() ? i : *before;
            if (same[i] == i) distinct.push_back(i);
        }
        std::vector<Modes> modes(points.size());
        constexpr int many = 8;  // positions from which a point takes milliseconds
        const bool uneven = std::any_of(distinct.begin(), distinct.end(),
                                        [&](size_t k) { return !solver_.alike(points[k]); });
        if (uneven && input_.n() >= many && distinct.size() > 1) {
            tbb::enumerable_thread_specific<ModeSolver> solvers(
                [this] { return ModeSolver(input_, options_.method); });
            std::vector<std::exception_ptr> failures(distinct.size());
            // Point by point: their times differ, and a wide share would leave one processor idle at the end.
            const tbb::blocked_range<size_t> all(0, distinct.size(), 1);
            tbb::parallel_for(
                all,
                [&](const tbb::blocked_range<size_t>& some) {
                    const size_t k = some.begin();
                    try {
                        modes[distinct[k]] = solvers.local().solve(points[distinct[k]]);
                    } catch (...) {
                        failures[k] = std::current_exception();
                    }
                },
                tbb::simple_partitioner());
            for (const std::exception_ptr& failure : failures)
                if (failure) std::rethrow_exception(failure);
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
        std::optional<std::pair<size_t, Mode>> worst[2];
        for (size_t i = 0; i < out_.points.size(); ++i) {
            const PointResult& r = out_.points[i];
            if (!r.point.judged) continue;
            for (const Mode& mode : r.modes.modes) {
                if (!mode.oscillates() || !in_band(mode, input_.require)) continue;
                auto& w = worst[mode.kind == ModeKind::common ? 1 : 0];
                const auto margin = [this](const Mode& m) {
                    return m.damping_ratio() - damping_target(m, input_.require);
                };
                if (!w || margin(mode) < margin(w->second)) w = {i, mode};
            }
        }
        if (worst[0]) out_.worst_differential = examined(worst[0]->first, worst[0]->second);
        if (worst[1]) out_.worst_common = examined(worst[1]->first, worst[1]->second);
        find_growing();
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
        const auto& passages = out_.passages.passages;
        const bool passed =
            std::all_of(passages.begin(), passages.end(), [](const Passage& p) { return p.passes(); });
        const bool clearly_fails = !out_.growing.empty() || !passed ||
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
        std::vector<OperatingPoint> points;
        std::vector<const Modes*> modes;
        bool passing_grows = false;
        for (const PointResult& r : out_.points) {
            points.push_back(r.point);
            modes.push_back(&r.modes);
            passing_grows = passing_grows || (!r.point.judged &&
                                              std::any_of(r.modes.modes.begin(), r.modes.modes.end(), grows));
        }
        if (options_.follow_modes || passing_grows) out_.families = follow_path(input_, points);
        out_.passages = pass_stages(input_, points, modes, out_.families);
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
