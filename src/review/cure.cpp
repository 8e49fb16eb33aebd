#include "ringquell/cure.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "modes/effort.h"
#include "review/cure_search.h"
#include "ringquell/acceptable.h"
#include "ringquell/quantity.h"

namespace ringquell {

using namespace internal;

namespace {

CureCost cost_of(const Case& input, const std::vector<PointResult>& results, double frequency_hz) {
    std::vector<OperatingPoint> points;
    points.reserve(results.size());
    for (const PointResult& r : results) points.push_back(r.point);
    CureCost out;
    double energy_j = 0, slowest_s = 0;
    bool energy_known = false, time_known = false, all_energy = true, all_times = true;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off}) {
        if (std::none_of(points.begin(), points.end(),
                         [&](const OperatingPoint& p) { return p.edge == edge; }))
            continue;
        const SwitchingEstimate estimate = estimate_switching(input, points, edge, frequency_hz);
        out.snubber_loss_w = estimate.snubber_loss_w;
        if (const auto time = estimate.transfer_s()) {
            slowest_s = std::max(slowest_s, *time);
            time_known = true;
        } else {
            all_times = false;
        }
        if (estimate.switching_energy_j) {
            energy_j += *estimate.switching_energy_j;
            energy_known = true;
        } else {
            all_energy = false;
        }
        if (edge == Edge::turn_on) out.induced = induced_gate(input, points, estimate);
    }
    if (time_known && all_times) out.transfer_s = slowest_s;
    if (energy_known && all_energy) out.switching_energy_j = energy_j;
    return out;
}

CureOption option_of(const Case& input, const FoundCure& found, double frequency_hz) {
    CureOption out;
    Changes changes;
    for (const Setting& s : found.settings) {
        changes.push_back(&s);
        out.changes.insert(out.changes.end(), s.changes.begin(), s.changes.end());
    }
    out.price = found.price;
    out.cured = changed(input, changes);
    CheckOptions options;
    options.size_gate_resistor = options.follow_modes = false;
    const CheckResult result = check(out.cured, options);
    if (result.worst_differential) out.damping_ratio = result.worst_differential->mode.damping_ratio();
    if (result.worst_common) out.common_damping_ratio = result.worst_common->mode.damping_ratio();
    out.gain_margin = result.gain_margin;
    out.cost = cost_of(out.cured, result.points, frequency_hz);
    return out;
}

bool same_changes(const CureOption& a, const CureOption& b) {
    return a.changes.size() == b.changes.size() &&
           std::equal(
               a.changes.begin(), a.changes.end(), b.changes.begin(),
               [](const CureChange& x, const CureChange& y) { return x.key == y.key && x.to == y.to; });
}

/// At least as good in all that is known of both, and better in something?
bool dominates(const CureOption& a, const CureOption& b) {
    bool worse = false, better = false;
    const auto less_is_better = [&](double x, double y) {
        constexpr double same = 1e-9;
        const double near = same * (std::abs(x) + std::abs(y));
        worse = worse || x > y + near;
        better = better || x < y - near;
    };
    less_is_better(a.price, b.price);
    if (a.damping_ratio && b.damping_ratio) less_is_better(-*a.damping_ratio, -*b.damping_ratio);
    if (a.cost.switching_energy_j && b.cost.switching_energy_j)
        less_is_better(*a.cost.switching_energy_j, *b.cost.switching_energy_j);
    if (a.cost.induced && b.cost.induced)
        less_is_better(a.cost.induced->gate_voltage_v, b.cost.induced->gate_voltage_v);
    less_is_better(a.cost.snubber_loss_w, b.cost.snubber_loss_w);
    return better && !worse;
}

void mark_pareto(std::vector<CureOption>& options) {
    for (CureOption& o : options)
        o.pareto = std::none_of(options.begin(), options.end(),
                                [&](const CureOption& other) { return dominates(other, o); });
}

/// What is in the way of a case, in words that follow "it reaches ...".
std::string in_the_way(const CheckResult& r, const Move& move) {
    const auto edge_of = [&](const FoundMode& m) { return r.points[m.point].point.edge; };
    const FoundMode* mode = mode_in_question(r);
    if (mode != nullptr && misses(mode->mode, r.require)) {
        const std::string where = r.points[mode->point].point.name;
        if (move.edge && edge_of(*mode) != *move.edge)
            return fmt::format("it acts on {} alone, and what is left is at \"{}\"",
                               *move.edge == Edge::turn_on ? "turn-on" : "turn-off", where);
        const char* kind = mode->mode.kind == ModeKind::common ? "the common mode's" : "the";
        if (mode->fed_by_gain()) return fmt::format("{} gain's part stays (at \"{}\")", kind, where);
        return fmt::format("{} loops' own ringing stays (at \"{}\")", kind, where);
    }
    if (!r.growing.empty())
        return fmt::format("a mode outside the band grows at \"{}\"",
                           r.points[r.growing.front().point].point.name);
    for (const Passage& p : r.passages.passages)
        if (!p.passes())
            return fmt::format("too much still grows in the passage of {}",
                               p.edge == Edge::turn_on ? "turn-on" : "turn-off");
    if (r.grows_at_required_gain) return "something grows with the gain margin that is asked";
    if (r.verdict == Verdict::undecided) return "the margin is below its numerical uncertainty";
    return "some samples of the tolerances fail";
}

/// One row for all of the layout: the number that comes nearest.
std::vector<NotAlone> one_of_layout(const std::vector<NotAlone>& all) {
    std::vector<NotAlone> out;
    std::optional<size_t> layout[2];  // copper, and what is bought
    for (const NotAlone& n : all) {
        if (!n.move->at) {
            out.push_back(n);
            continue;
        }
        std::optional<size_t>& row = layout[n.move->effort == CureEffort::layout ? 0 : 1];
        if (!row) {
            row = out.size();
            out.push_back(n);
        } else if (n.least > out[*row].least) {
            out[*row] = n;
        }
    }
    return out;
}

NoCure no_cure(const Case& input, const NotAlone& n) {
    NoCure out;
    out.what = n.move->at ? (n.move->effort == CureEffort::layout ? "one inductance of the layout"
                                                                  : "one inductance of package or driver")
                          : n.move->what;
    try {
        const CheckResult r = check(changed(input, {&n.best}), verdict_alone());
        const FoundMode* mode = mode_in_question(r);
        if (mode != nullptr && misses(mode->mode, r.require)) {
            out.best = n.best.changes;
            out.damping_ratio = mode->mode.damping_ratio();
        }
        out.reason = in_the_way(r, *n.move);
    } catch (const InputError& error) {
        out.reason = error.what();
    } catch (const NumericalError& error) {
        out.reason = error.what();
    }
    return out;
}

/// The resistors that check() prefers, with their margin.
std::optional<FoundCure> preferred(const Case& input, const CheckResult& sized,
                                   const std::vector<Move>& moves) {
    FoundCure out;
    CureTrial trial(input, sized);
    for (const auto& [edge, sizing] : sized.gate_resistance) {
        if (!sizing.preferred_ohm || !sizing.passes_with_preferred || trial.passes({}, edge)) continue;
        const std::string wanted = engineering(*sizing.preferred_ohm, Dimension::resistance, 4);
        for (const Move& m : moves) {
            if (!m.gate_resistor || m.edge != edge) continue;
            for (const Setting& s : m.settings)
                if (s.changes.front().to == wanted) out.settings.push_back(s);
        }
    }
    if (out.settings.empty()) return std::nullopt;
    Changes changes;
    for (const Setting& s : out.settings) {
        changes.push_back(&s);
        out.price += s.price;
    }
    if (!trial.confirmed(changes)) return std::nullopt;
    return out;
}

std::vector<Edge> edges_of(const CheckResult& r) {
    std::vector<Edge> out;
    for (const Edge edge : {Edge::turn_on, Edge::turn_off})
        if (std::any_of(r.points.begin(), r.points.end(),
                        [&](const PointResult& p) { return p.point.edge == edge; }))
            out.push_back(edge);
    return out;
}

}  // namespace

Cure find_cure(const Case& input, const CureOptions& options) {
    Cure out;
    out.before = check(input);
    out.typical_beads = options.beads.empty();
    out.by_samples = !input.spread.empty() && input.n() < no_samples_from;
    out.cost_before = cost_of(input, out.before.points, options.switching_frequency_hz);
    if (out.before.verdict == Verdict::pass) return out;
    const std::vector<Move> moves = cure_moves(input, options, edges_of(out.before), false);
    CureSearchResult found = search_cures(input, out.before, moves, false);
    out.networks = found.networks;
    out.ended_early = found.ended_early;
    const auto add = [&](const FoundCure& f, bool with_room) {
        CureOption o = option_of(input, f, options.switching_frequency_hz);
        o.with_room = with_room;
        if (std::none_of(out.options.begin(), out.options.end(),
                         [&](const CureOption& other) { return same_changes(other, o); }))
            out.options.push_back(std::move(o));
    };
    constexpr size_t most_options = 16;
    for (size_t k = 0; k < std::min(found.found.size(), most_options); ++k) add(found.found[k], false);
    if (!out.by_samples)
        if (const auto room = preferred(input, out.before, moves)) add(*room, true);
    std::stable_sort(out.options.begin(), out.options.end(),
                     [](const CureOption& a, const CureOption& b) { return a.price < b.price; });
    mark_pareto(out.options);
    for (const NotAlone& n : one_of_layout(found.alone_not)) out.alone_not.push_back(no_cure(input, n));
    return out;
}

void add_first_cure(const Case& input, CheckResult& result) {
    const bool uneven = std::any_of(result.points.begin(), result.points.end(),
                                    [](const PointResult& r) { return !r.modes.by_blocks(); });
    if (result.verdict == Verdict::pass || result.gate_resistance.empty() ||
        !all_pass(result.passages.passages) || (uneven && input.n() >= points_in_parallel_from))
        return;
    Case nominal = input;
    nominal.spread.clear();
    const std::vector<Move> moves = cure_moves(nominal, {}, edges_of(result), true);
    const CureSearchResult search = search_cures(nominal, result, moves, true);
    if (search.found.empty()) return;
    const FoundCure& least = search.found.front();
    FirstCure& out = result.first_cure.emplace();
    Changes changes;
    out.resistors_alone = true;
    for (const Setting& s : least.settings) {
        changes.push_back(&s);
        out.changes.insert(out.changes.end(), s.changes.begin(), s.changes.end());
        out.resistors_alone = out.resistors_alone && s.gate_resistor;
    }
    out.price = least.price;
    if (result.worst_differential) out.damping_before = result.worst_differential->mode.damping_ratio();
    const CheckResult cured = check(changed(nominal, changes), verdict_alone());
    if (cured.worst_differential) out.damping_ratio = cured.worst_differential->mode.damping_ratio();
}

}  // namespace ringquell
