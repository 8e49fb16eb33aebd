#include "ringquell/calibrate.h"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <cmath>

#include "report/calibrate_parts.h"
#include "report/parts.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string plus_minus(double value, double error, Dimension dimension) {
    return fmt::format("{} ± {}", engineering(value, dimension, 4), engineering(error, dimension, 2));
}

std::string where(const BenchRecord& r) {
    std::string out = r.unpowered ? "unpowered" : fmt::format("at \"{}\"", r.point);
    if (r.given)
        out = fmt::format(
            "at {}, {}, {}, {}", edge_name(r.given->edge), engineering(r.given->vds_v, Dimension::voltage),
            engineering(r.given->current_a, Dimension::current), name_of(r.given->complementary));
    if (!r.from.empty()) out += fmt::format(", {} to {}", r.from, r.to);
    if (!r.probe.empty()) out += fmt::format(" by \"{}\"", r.probe);
    return out;
}

std::string in_errors(const ModeBesideRing& m) {
    const auto plain = [](double errors) { return std::abs(errors) < 0.05 ? 0 : errors; };  // no -0.0
    return fmt::format("frequency {:+.1f}, damping {:+.1f} errors off", plain(m.frequency_off),
                       plain(m.damping_off));
}

std::string mode_words(const ModeBesideRing& m) {
    return fmt::format("{} mode, {}, damping ratio {}", kind_name(m.mode.kind),
                       frequency(m.mode.ringing_frequency_hz()), damping(m.mode.damping_ratio()));
}

std::string fit_lines(const RingFit& fit) {
    std::string out =
        fmt::format("  {} samples from {} to {}, {} apart; what is left over: {:.3g} rms, {}\n", fit.samples,
                    engineering(fit.from_s, Dimension::time), engineering(fit.to_s, Dimension::time),
                    engineering(fit.sample_period_s, Dimension::time, 3), fit.noise_rms,
                    std::abs(fit.whiteness) <= fit.whiteness_allowed
                        ? "white"
                        : fmt::format("not white (neighbours correlate by {:.2f}, noise by at most {:.2f})",
                                      fit.whiteness, fit.whiteness_allowed));
    for (size_t k = 1; k < fit.rings.size(); ++k)
        out += fmt::format("  beside it {} with damping ratio {}, amplitude {:.3g} of {:.3g}: not used\n",
                           frequency(fit.rings[k].frequency_hz), damping(fit.rings[k].damping_ratio),
                           fit.rings[k].amplitude, fit.rings.front().amplitude);
    if (fit.starts.size() > 1) {
        out += "  from later starts:";
        constexpr size_t shown = 5;
        const size_t rows = std::min(shown, fit.starts.size());
        for (size_t k = 0; k < rows; ++k) {
            const RingStart& s = fit.starts[rows == 1 ? 0 : k * (fit.starts.size() - 1) / (rows - 1)];
            out += fmt::format(" {}: {}, {};", engineering(s.from_s, Dimension::time, 3),
                               frequency(s.ring.frequency_hz), damping(s.ring.damping_ratio));
        }
        out.back() = '\n';
        out +=
            fit.steady
                ? fmt::format("  frequency and damping stand still from {} to {}\n",
                              engineering(fit.steady->first, Dimension::time, 3),
                              engineering(fit.steady->second, Dimension::time, 3))
                : "  over no part do frequency and damping stand still: capacitances move while it rings\n";
    }
    for (const std::string& remark : fit.remarks) out += "  " + remark + "\n";
    return out;
}

std::string ring_lines(const CalibratedRecord& r) {
    std::string out = fmt::format(
        "{} ({}): {}, damping ratio {}\n", r.record.name, where(r.record),
        r.frequency_error_hz > 0 ? plus_minus(r.frequency_hz, r.frequency_error_hz, Dimension::frequency)
                                 : frequency(r.frequency_hz),
        r.damping_error > 0 ? fmt::format("{} ± {:.2g}", damping(r.damping_ratio), r.damping_error)
                            : damping(r.damping_ratio));
    if (r.fit) out += fit_lines(*r.fit);
    if (r.nothing_rings_like_that) {
        out += "  Nothing in this case rings like that.";
        if (r.nearest)
            out += fmt::format(" The nearest in frequency: {} mode, {}, damping ratio {}.",
                               kind_name(r.nearest->kind), frequency(r.nearest->ringing_frequency_hz()),
                               damping(r.nearest->damping_ratio()));
        out += "\n";
        if (r.modes.empty()) return out;
    }
    out += fmt::format("  as the case stands: {}; {}\n", mode_words(r.modes.front()),
                       in_errors(r.modes.front()));
    if (r.two_would_do)
        out += fmt::format("  another would do as well: {}; {}\n", mode_words(r.modes[1]),
                           in_errors(r.modes[1]));
    if (r.after)
        out += fmt::format("  with what is settled: {}; {}\n", mode_words(*r.after), in_errors(*r.after));
    return out;
}

std::string single_table(const Calibration& c) {
    if (c.single_changes.empty())
        return c.unknowns.empty() ? ""
                                  : fmt::format(
                                        "\nNo number moved alone brings the records nearer; as the case "
                                        "stands {:.3g} errors "
                                        "are missed, rms.\n",
                                        c.misfit_before);
    std::string out = fmt::format(
        "\nOne number moved alone (nothing moved: {:.3g} errors are missed, rms)\n"
        "     errors  tolerances        from           to  worst then   number\n",
        c.misfit_before);
    int rank = 0;
    for (const SingleChangeRow& row : c.single_changes) {
        out +=
            fmt::format("{:>3}{} {:>6.2f} {:>10.2g}{} {:>12} {:>12} {:>11}   {}", ++rank,
                        row.explains ? "*" : " ", row.misfit, row.tolerances, row.tolerance_given ? " " : "~",
                        single_value_words(row.from, row), single_value_words(row.to, row),
                        row.worst_damping ? damping(*row.worst_damping) : "", row.keys.front());
        if (row.keys.size() > 1)
            out += fmt::format(" (or, in the same string, {})",
                               fmt::join(row.keys.begin() + 1, row.keys.end(), ", "));
        if (!row.others.empty()) out += fmt::format("; or alone {}", fmt::join(row.others, ", "));
        out += "\n";
    }
    out += single_verdict(c);
    return out +
           "errors: what the records still miss, rms, in their errors (*: nothing by more than two). "
           "tolerances: how far\n"
           "it moves, in its tolerance (~: a typical one). worst then: least differential damping along the "
           "path.\n";
}

std::string unknowns_table(const Calibration& c) {
    const std::vector<const CalibratedUnknown*> rows = narrowed_unknowns(c);
    std::string out = fmt::format("\nWhat the records settle, of {} (standard deviations)\n",
                                  counted(static_cast<std::int64_t>(c.unknowns.size()), "unknown"));
    if (rows.empty()) return out + "  nothing: each is known hardly better than before\n";
    out += fmt::format("{:>26} {:>26} {:>6}   {}\n", "before", "after", "left", "unknown");
    for (const CalibratedUnknown* u : rows) {
        out += fmt::format("{:>26} {:>26} {:>5.0f}%   {}{}", unknown_words(*u, u->before, u->before_error),
                           unknown_words(*u, u->after, u->after_error), 100 * u->narrowed, u->key,
                           u->batch ? " (all together)" : "");
        if (c.records.size() > 1 && !u->records.empty()) {
            std::vector<size_t> numbers;
            for (const size_t r : u->records) numbers.push_back(r + 1);
            out += fmt::format(": record {}", fmt::join(numbers, ", "));
        }
        out += "\n";
    }
    if (rows.size() < c.unknowns.size())
        out += fmt::format("  {} others are known hardly better than before.\n",
                           c.unknowns.size() - rows.size());
    return out;
}

std::string worst_lines(const Calibration& c) {
    if (c.worst_point.empty()) return "";
    std::string out = fmt::format(
        "\nLeast differential damping along the path: {} as the case stands, {} with what is settled, at "
        "\"{}\" (asked: "
        "{})\n  there, with 95 %: {} to {}; before: {} to {}\n",
        damping(c.worst_before), damping(c.worst_after), c.worst_point, damping(c.damping_asked),
        damping(c.known_after.low), damping(c.known_after.high), damping(c.known_before.low),
        damping(c.known_before.high));
    if (c.spread_before && c.spread_after)
        out += fmt::format("Of {} samples {:.1f} % passed before, {:.1f} % pass now.\n",
                           c.spread_before->samples,
                           100.0 * static_cast<double>(c.spread_before->passed) /
                               static_cast<double>(c.spread_before->samples),
                           100.0 * static_cast<double>(c.spread_after->passed) /
                               static_cast<double>(c.spread_after->samples));
    return out;
}

}  // namespace

const char* const internal::nothing_settled =
    "Nothing is settled by records that the case cannot explain: find what it lacks, or what was measured, "
    "first.";

std::string internal::calibrate_record(const CalibratedRecord& r) {
    std::string out;
    if (r.record.kind == BenchRecord::Kind::impedance)
        out = fmt::format(
            "{} ({}): {} points; missed by {:.3g} errors (rms) as the case stands, by {:.3g} with what is "
            "settled\n",
            r.record.name, where(r.record), r.points, r.off_before, r.off_after);
    else
        out = ring_lines(r);
    if (!r.fits() && !r.nothing_rings_like_that)
        out += fmt::format(
            "  It does not fit: {:.1f} errors are left. Look for an element that the case lacks (a leg, a "
            "tab, a probe's "
            "lead, a coupling), or for a number beyond its tolerance in the table below.\n",
            r.greatest_off);
    return out;
}

std::string internal::single_value_words(double value, const SingleChangeRow& row) {
    return row.curve ? fmt::format("{:.3g} times", value) : engineering(value, row.dimension, 3);
}

std::string internal::single_verdict(const Calibration& c) {
    size_t alike = 1;
    while (alike < c.single_changes.size() &&
           c.single_changes[alike].score < c.single_changes.front().score + SingleChangeRow::tells_apart)
        ++alike;
    if (std::none_of(c.single_changes.begin(), c.single_changes.end(),
                     [](const SingleChangeRow& row) { return row.explains; }))
        return "No number alone explains the records.\n";
    if (alike > 1)
        return fmt::format("These records do not tell rows 1 to {} apart (odds of less than three to one).\n",
                           alike);
    return "Row 1 is more likely than row 2 by odds of more than three to one.\n";
}

std::vector<const CalibratedUnknown*> internal::narrowed_unknowns(const Calibration& c) {
    constexpr double told = 0.97;  // narrowed less than this is no line
    std::vector<const CalibratedUnknown*> rows;
    for (const CalibratedUnknown& u : c.unknowns)
        if (u.narrowed < told) rows.push_back(&u);
    std::stable_sort(rows.begin(), rows.end(),
                     [](const auto* a, const auto* b) { return a->narrowed < b->narrowed; });
    return rows;
}

std::string internal::unknown_words(const CalibratedUnknown& u, double value, double error) {
    return u.curve ? fmt::format("{:.3g} ± {:.2g}", value, error) : plus_minus(value, error, u.dimension);
}

std::string internal::calibrate_combinations(const Calibration& c) {
    std::string out;
    for (const CalibratedCombination& k : c.combinations) {
        std::string names = fmt::format("{}", fmt::join(k.plus, " + "));
        if (!k.minus.empty()) names += fmt::format(" - {}", fmt::join(k.minus, " - "));
        if (k.is_sum) {
            out += fmt::format("  {}: {}", names, plus_minus(k.value, k.error, k.dimension));
            if (k.opposite_narrowed)
                out += fmt::format(
                    "; with the other sign: {}",
                    *k.opposite_narrowed > 0.9
                        ? "not at all"
                        : fmt::format("{:.0f} % of what was open is left", 100 * *k.opposite_narrowed));
            out += "\n";
        } else {
            out +=
                fmt::format("  {}{}: together, {:.0f} % of what was open is left\n", fmt::join(k.plus, ", "),
                            k.minus.empty() ? "" : fmt::format(", against {}", fmt::join(k.minus, ", ")),
                            100 * k.narrowed);
        }
    }
    return out.empty() ? "" : "\nKnown in combination better than each alone\n" + out;
}

std::string internal::calibrate_strain(const Calibration& c) {
    std::string out;
    if (!c.within_tolerances())
        out += fmt::format(
            "\nWithin the tolerances such records have odds of {:.1g}: a number is wrong, or the case "
            "lacks something. Do not go on from these values before you know which.\n{}",
            c.plausibility,
            c.beyond.empty() ? "" : fmt::format("Out of their tolerances: {}.\n", fmt::join(c.beyond, ", ")));
    if (c.other_minima > 0)
        out += fmt::format(
            "\nOther values explain the records nearly as well; they differ most in {}. What stands here "
            "is one of {} answers.\n",
            fmt::join(c.apart, ", "), c.other_minima + 1);
    if (!c.converged) out += "\nThe fit did not settle: take its values with care.\n";
    return out;
}

std::string internal::calibrate_next(const Calibration& c) {
    if (c.next.empty()) return "";
    std::string out =
        "\nWhat to measure next: how much of what is open of the damping at the worst point it would leave\n";
    for (const NextMeasurement& m : c.next) {
        out += fmt::format("  {:>3.0f} %: {} {}", 100 * m.left, m.what,
                           m.unpowered ? "without voltage" : fmt::format("at \"{}\"", m.at));
        out += m.probe.empty() ? fmt::format(", {} to {}\n", m.from, m.to)
                               : fmt::format(", probe \"{}\"\n", m.probe);
    }
    constexpr double tells = 0.9;
    if (std::all_of(c.next.begin(), c.next.end(), [](const NextMeasurement& m) { return m.left > tells; }))
        out += "  None of them alone tells much more.\n";
    return out;
}

CalibratedVerdict internal::calibrated_verdict(const Calibration& c) {
    const auto odd = std::find_if(c.records.begin(), c.records.end(),
                                  [](const CalibratedRecord& r) { return r.nothing_rings_like_that; });
    if (odd != c.records.end())
        return {"NOT EXPLAINED", fmt::format("nothing in this case rings like \"{}\"", odd->record.name)};
    const auto misfits = std::count_if(c.records.begin(), c.records.end(),
                                       [](const CalibratedRecord& r) { return !r.fits(); });
    if (misfits > 0)
        return {"EXPLAINED IN PART",
                fmt::format("{} within the tolerances", misfits == 1
                                                            ? "1 record does not fit"
                                                            : fmt::format("{} records do not fit", misfits))};
    if (!c.within_tolerances())
        return {"EXPLAINED BEYOND THE TOLERANCES",
                fmt::format("within them the odds are {:.1g}", c.plausibility)};
    return {"EXPLAINED", fmt::format("{} within the tolerances",
                                     c.records.size() == 1 ? "the record fits" : "all records fit")};
}

std::string calibrate_text(const Calibration& c, const std::string& written, bool quiet) {
    const CalibratedVerdict verdict = calibrated_verdict(c);
    std::string out =
        fmt::format("{}: {}; {}\n", verdict.word, c.title.empty() ? "case" : c.title, verdict.what);
    if (!written.empty()) out += fmt::format("Written: {}\n", written);
    if (quiet) return out;
    out += "\n";
    for (size_t k = 0; k < c.records.size(); ++k)
        out += (c.records.size() > 1 ? fmt::format("{}. ", k + 1) : "") + calibrate_record(c.records[k]);
    out += single_table(c);
    if (!c.explained()) {
        out += fmt::format("\n{}\n", nothing_settled);
    } else if (!c.unknowns.empty()) {
        out += unknowns_table(c) + calibrate_combinations(c);
        out += calibrate_strain(c);
        out += worst_lines(c) + calibrate_next(c);
    }
    for (const std::string& remark : c.remarks) out += "Note: " + remark + "\n";
    out +=
        "The errors of a measurement are more than noise: a probe's delay and loading, and capacitances that "
        "move while\n"
        "it rings, are in `model_error`.\n";
    return out + caution;
}

}  // namespace ringquell
