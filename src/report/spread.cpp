#include "ringquell/spread.h"

#include <fmt/format.h>

#include <cmath>

#include "report/parts.h"
#include "report/values.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

double share_of(std::int64_t part, std::int64_t whole) {
    return whole == 0 ? 0 : static_cast<double>(part) / static_cast<double>(whole);
}
/// 99.97 %, never rounded up to a 100 that it is not.
std::string percent(double share) {
    return fmt::format("{:.4g} %", std::floor(share * 1e4) / 100);
}

std::string quantile_lines(const SpreadResult& r) {
    std::string out = "Damping ratio of the least damped mode\n";
    out += fmt::format("  {:>10} {:>10} {:>24}\n", "share", "at most", "true value, 95 % sure");
    for (const SpreadQuantile& q : r.quantiles) {
        const std::string low = q.at_least ? fmt::format("{:.4f}", *q.at_least) : "too few",
                          high = q.at_most ? fmt::format("{:.4f}", *q.at_most) : "too few";
        out += fmt::format("  {:>10} {:>10.4f} {:>24}\n", fmt::format("{:g} %", 100 * q.p), q.damping_ratio,
                           fmt::format("{} to {}", low, high));
    }
    return out;
}

std::string matter_lines(const SpreadResult& r) {
    constexpr size_t most = 10;
    constexpr double worth_a_line = 0.005;
    std::string out = "What matters: share of the damping's variance that one tolerance alone explains\n";
    size_t listed = 0;
    double sum = 0;
    for (const SpreadShare& s : r.matters) {
        sum += s.share;
        if (listed == most || s.share < worth_a_line) continue;
        ++listed;
        out += fmt::format("  {:<44} {:<9} {:>5.1f} % +- {:.1f}\n", s.key, name_of(s.vary), 100 * s.share,
                           100 * s.error);
    }
    out += fmt::format("  {:<44} {:<9} {:>5.1f} %\n", "all of them, each alone", "", 100 * sum);
    return out;
}

std::string corner_lines(const Corners& c, const SpreadResult& r) {
    const auto where = [&](const std::vector<double>& at) {
        std::string out;
        for (size_t k = 0; k < at.size(); ++k)
            out += fmt::format("{}{} {}", k ? ", " : "", c.keys[k],
                               at[k] < 0   ? "low"
                               : at[k] > 0 ? "high"
                                           : "middle");
        return out;
    };
    std::string out = fmt::format("Corners of the {} that matter most: worst damping ratio {:.4f} with {}\n",
                                  c.keys.size(), c.worst_corner, where(c.at));
    if (c.worst_inside)
        out +=
            fmt::format("  The worst is no corner: {:.4f} with {}. Checking extremes alone would miss it.\n",
                        c.worst_of_grid, where(c.grid_at));
    if (r.worst_sample && r.worst.damping_ratio < c.worst_of_grid)
        out += fmt::format(
            "  The worst sample, {:.4f}, lies below all of these: the other tolerances matter together.\n",
            r.worst.damping_ratio);
    return out;
}

std::string resistance_line(const ResistanceForShare& r) {
    if (!r.ohm)
        return fmt::format("Gate resistor for {}: no E24 value makes 99 % pass (at most {} of {} samples)\n",
                           edge_word(r.edge), percent(r.share), r.samples);
    return fmt::format("Gate resistor for {}: {} makes {} of the first {} samples pass\n", edge_word(r.edge),
                       engineering(*r.ohm, Dimension::resistance, 3), percent(r.share), r.samples);
}

std::string asked_percent(const SpreadResult& r) {
    return fmt::format("{:.6g} %", 100 * r.require.pass_share);
}

/// Which of the two that are asked failed; empty where both hold.
std::string why(const SpreadResult& r) {
    if (r.verdict() == Verdict::pass) return {};
    if (!r.passes_in_passing()) return "; the board as it stands grows too much in passing";
    const std::string samples =
        fmt::format("{} samples are needed to show that {} pass", r.samples_needed, asked_percent(r));
    if (r.partial()) return {};
    if (r.verdict() == Verdict::undecided) return "; " + samples;
    std::string out;
    if (!r.keeps())
        out = fmt::format("; {} of the first {} samples do not keep a damping ratio of {:.3g}",
                          r.first - r.kept_of_first, r.first, r.require.worst_damping);
    if (r.share_reached()) return out;
    if (r.samples < r.samples_needed) return fmt::format("{}; {}", out, samples);
    return fmt::format("{}; at least {} pass, not {}", out, percent(r.lower_bound_95), asked_percent(r));
}

}  // namespace

std::string spread_text(const SpreadResult& r, const std::vector<ResistanceForShare>& resistances,
                        const std::optional<Corners>& corners, const std::string& worst_file, bool quiet) {
    std::string out =
        fmt::format("{}{}: {}{}, {} of seed {}{}\n", verdict_word(r.verdict()),
                    r.partial() ? " (PARTIAL)" : "", r.title.empty() ? "" : r.title + "; ",
                    counted(r.positions, "position"), counted(r.samples, "sample"), r.seed, why(r));
    out += fmt::format(
        "Meets the whole requirement: {} of the samples; at least {} of all such boards, with 95 % "
        "confidence (require.pass_share: {})\n",
        percent(share_of(r.passed, r.samples)), percent(r.lower_bound_95), asked_percent(r));
    const std::string kept = fmt::format(
        "Keeps a damping ratio of {:.3g} (require.worst_damping): {} of the samples; at least {}, with 95 % "
        "confidence\n",
        r.require.worst_damping, percent(share_of(r.kept, r.samples)), percent(r.kept_lower_bound_95));
    if (!r.passages.empty())
        out +=
            "Stages judged in passing are in no sample, which is judged at the points judged held alone. The "
            "board as it stands:\n";
    for (const Passage& p : r.passages) out += passage_line(p);
    if (quiet) return out + kept;
    if (r.partial())
        out += fmt::format("Ended early: {} of {} samples. All figures are of these alone.\n", r.samples,
                           r.asked);
    out += kept;
    if (r.worst_sample) {
        out += fmt::format("Worst: sample {}, {} mode, damping ratio {:.4g}, {} at \"{}\"", *r.worst_sample,
                           kind_name(r.worst.kind), r.worst.damping_ratio,
                           engineering(r.worst.natural_frequency_hz, Dimension::frequency, 4), r.worst_point);
        out += worst_file.empty() ? "\n" : fmt::format("; written to {}\n", worst_file);
    }
    if (r.no_point + r.not_trusted > 0)
        out += fmt::format(
            "Not judged, and counted as failing: {} without an operating point, {} not trusted; the first: "
            "{}\n",
            r.no_point, r.not_trusted, r.reason);
    if (!r.quantiles.empty()) out += "\n" + quantile_lines(r);
    if (!r.matters.empty()) out += "\n" + matter_lines(r);
    if (corners) out += "\n" + corner_lines(*corners, r);
    if (!resistances.empty()) out += "\n";
    for (const ResistanceForShare& x : resistances) out += resistance_line(x);
    out +=
        "\nThe shares hold for the tolerances that the case gives, and for the model: what the case leaves "
        "out, and "
        "boards that\nare built wrong, are in no sample.\n\n";
    return out + caution;
}

Json internal::spread_value(const SpreadResult& r, const std::vector<ResistanceForShare>& resistances,
                            const std::optional<Corners>& corners, const std::string& worst_file) {
    Json out{{"ringquell", version},
             {"verb", "spread"},
             {"title", r.title},
             {"verdict", verdict_name(r.verdict())},
             {"keeps_worst_damping", r.keeps()},
             {"reaches_pass_share", r.share_reached()},
             {"samples_needed", r.samples_needed},
             {"samples", r.samples},
             {"asked", r.asked},
             {"partial", r.partial()},
             {"passed", r.passed},
             {"pass_share", share_of(r.passed, r.samples)},
             {"lower_bound_95", r.lower_bound_95},
             {"pass_share_required", r.require.pass_share},
             {"worst_damping_required", r.require.worst_damping},
             {"kept", r.kept},
             {"kept_lower_bound_95", r.kept_lower_bound_95},
             {"no_point", r.no_point},
             {"not_trusted", r.not_trusted},
             {"passing_left_out", !r.passages.empty()},
             {"passages", passages_value(r.passages)},
             {"positions", r.positions},
             {"seed", r.seed}};
    out["damping_quantiles"] = Json::object();
    for (const SpreadQuantile& q : r.quantiles)
        out["damping_quantiles"][fmt::format("{:g}", q.p)] = {{"damping_ratio", q.damping_ratio},
                                                              {"at_least_95", or_null(q.at_least)},
                                                              {"at_most_95", or_null(q.at_most)}};
    out["worst"] = Json::object();
    if (r.worst_sample)
        out["worst"] = {{"sample", *r.worst_sample},
                        {"damping_ratio", r.worst.damping_ratio},
                        {"natural_frequency_hz", r.worst.natural_frequency_hz},
                        {"kind", kind_name(r.worst.kind)},
                        {"point", r.worst_point},
                        {"case", worst_file.empty() ? Json() : Json(worst_file)}};
    out["matters"] = Json::array();
    for (const SpreadShare& s : r.matters)
        out["matters"].push_back(
            {{"key", s.key}, {"vary", name_of(s.vary)}, {"share", s.share}, {"error", s.error}});
    if (corners)
        out["corners"] = {{"keys", corners->keys},       {"worst_corner", corners->worst_corner},
                          {"at", corners->at},           {"worst_of_grid", corners->worst_of_grid},
                          {"grid_at", corners->grid_at}, {"worst_inside", corners->worst_inside}};
    out["gate_resistance_for_99_percent"] = Json::object();
    for (const ResistanceForShare& x : resistances)
        out["gate_resistance_for_99_percent"][edge_name(x.edge)] = {
            {"ohm", or_null(x.ohm)}, {"share", x.share}, {"samples", x.samples}};
    out["caution"] = caution;
    return out;
}

std::string spread_json(const SpreadResult& r, const std::vector<ResistanceForShare>& resistances,
                        const std::optional<Corners>& corners, const std::string& worst_file) {
    return printed(spread_value(r, resistances, corners, worst_file));
}

}  // namespace ringquell
