// The verdict as lines of a checklist: Markdown for a design review, JUnit XML for a build server.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <vector>

#include "report/markup.h"
#include "report/parts.h"
#include "ringquell/quantity.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

enum class Outcome { meets, misses, open };

/// One requirement with its reason.
struct Line {
    std::string name, reason;
    Outcome outcome = Outcome::meets;
};

std::string mode_words(const CheckResult& r, const FoundMode& m) {
    return fmt::format("damping ratio {}, {}, {}, at {}. {}", damping(m.mode.damping_ratio()),
                       engineering(m.mode.natural_frequency_hz(), Dimension::frequency, 4), pace(m.mode),
                       place(r.points[m.point].point), cause_of(m));
}

Line damping_line(const CheckResult& r, const char* kind, const std::optional<FoundMode>& worst,
                  const std::optional<double>& target) {
    Line out;
    const std::string band = fmt::format("{} to {}", engineering(r.require.band_low_hz, Dimension::frequency),
                                         engineering(r.require.band_high_hz, Dimension::frequency));
    out.name = target
                   ? fmt::format("{} modes: damping ratio at least {} from {}", kind, damping(*target), band)
                   : fmt::format("{} modes: reported, no damping asked from {}", kind, band);
    if (!worst) {
        out.reason = fmt::format("no {} mode oscillates in the band", kind);
        return out;
    }
    out.reason = mode_words(r, *worst);
    if (!target) return out;
    const double margin = worst->mode.damping_ratio() - *target;
    if (std::abs(margin) <= worst->damping_uncertainty)
        out.outcome = Outcome::open;
    else if (margin < 0)
        out.outcome = Outcome::misses;
    return out;
}

std::vector<Line> requirement_lines(const CheckResult& r) {
    std::vector<Line> out;
    const double differential = r.worst_differential ? damping_target(r.worst_differential->mode, r.require)
                                                     : r.require.differential_damping;
    out.push_back(damping_line(r, "differential", r.worst_differential, differential));
    out.push_back(damping_line(r, "common", r.worst_common, r.require.common_damping));
    Line growth{"nothing grows at any frequency", "no mode grows at the points judged held", Outcome::meets};
    if (!r.growing.empty()) {
        growth.outcome = Outcome::misses;
        growth.reason = growing_line(r);
        while (!growth.reason.empty() && growth.reason.back() == '\n') growth.reason.pop_back();
    }
    out.push_back(growth);
    for (const Passage& p : r.passages.passages) {
        Line line{
            fmt::format("{}{}{}, both dice saturated in passing: a disturbance grows at most {:.3g} times",
                        edge_word(p.edge), p.variant, p.soft ? " with the soft ramp" : "", p.limit),
            "nothing grows there", p.passes() ? Outcome::meets : Outcome::misses};
        std::string held;
        for (const Stage& s : r.passages.stages)
            if (s.grows_if_held() && std::find(p.stages.begin(), p.stages.end(), s.name) != p.stages.end())
                held +=
                    fmt::format("; \"{}\" if held: damping ratio {}, {}, {}", s.name,
                                damping(s.least->mode.damping_ratio()),
                                engineering(s.least->mode.natural_frequency_hz(), Dimension::frequency, 4),
                                pace(s.least->mode));
        if (!p.growth)
            line.reason = "it grows, and for how long is not known";
        else if (p.growth->exponent > 0)
            line.reason = fmt::format("grows {:.3g} times by estimate ({:.2g} to {:.2g}){}",
                                      p.growth->factor(), p.growth->least(), p.growth->most(),
                                      p.integration_decides() ? "; the integration decides" : "");
        line.reason += held;
        out.push_back(line);
    }
    if (const auto& asked = r.require.gain_margin) {
        Line gain{
            fmt::format("nothing grows with all gains {:.3g} times as large", *asked), {}, Outcome::meets};
        gain.reason = gain_margin_line(r);
        while (!gain.reason.empty() && gain.reason.back() == '\n') gain.reason.pop_back();
        std::replace(gain.reason.begin(), gain.reason.end(), '\n', ' ');
        if (r.grows_at_required_gain || !r.growing.empty()) gain.outcome = Outcome::misses;
        out.push_back(gain);
    }
    return out;
}

/// What the fitted resistors are worth: no requirement of its own.
std::string sizing_words(const CheckResult& r, Edge edge, const EdgeSizing& s) {
    std::string out = fmt::format("fitted {} ({})", fitted(s, 3), fitted_word(r, edge, s));
    if (s.acceptable.windows.empty()) return out + ", no value is acceptable";
    for (const Window& w : s.acceptable.windows) out += ", acceptable " + bounded(w);
    if (s.preferred_ohm)
        out += fmt::format(", preferred {}{}", engineering(*s.preferred_ohm, Dimension::resistance, 3),
                           s.passes_with_preferred ? "" : " (another mode still fails)");
    return out;
}

std::string one_line(std::string text) {
    std::replace(text.begin(), text.end(), '\n', ' ');
    while (!text.empty() && text.back() == ' ') text.pop_back();
    return text;
}

}  // namespace

std::string check_markdown(const CheckResult& r) {
    const char* verdict = r.verdict == Verdict::pass   ? "passes"
                          : r.verdict == Verdict::fail ? "fails"
                                                       : "no verdict";
    std::string out = fmt::format("## Parallel oscillation: {}\n\n", verdict);
    if (!r.title.empty()) out += fmt::format("{}: ", plain_markdown(r.title));
    out += fmt::format("{}, {}, ringquell {}.\n\n", counted(r.positions, "position"),
                       counted(static_cast<std::int64_t>(r.points.size()), "operating point"), version);
    if (!r.undecided_reason.empty())
        out += fmt::format("No verdict: {}.\n\n", plain_markdown(r.undecided_reason));
    for (const Line& line : requirement_lines(r))
        out += fmt::format("- [{}] {}: {}\n", line.outcome == Outcome::meets ? 'x' : ' ',
                           plain_markdown(line.name),
                           plain_markdown((line.outcome == Outcome::misses ? "**misses.** "
                                           : line.outcome == Outcome::open ? "within its uncertainty. "
                                                                           : "") +
                                          line.reason));
    for (const auto& [edge, s] : r.gate_resistance)
        out += fmt::format("- [{}] gate resistor for {} ({}): {}\n",
                           fitted_passes(s) && passage_passes(r, edge) ? 'x' : ' ', edge_word(edge),
                           plain_markdown(s.acceptable.key), plain_markdown(sizing_words(r, edge, s)));
    // Not escaped: the emphasis of a missed line.
    for (size_t at; (at = out.find("\\*\\*misses.\\*\\*")) != std::string::npos;)
        out.replace(at, 15, "**misses.**");
    if (const std::string advice = advice_line(r); !advice.empty())
        out += "\n" + plain_markdown(one_line(advice)) + "\n";
    if (!r.assumed.empty()) out += "\n" + plain_markdown(one_line(assumed_line(r))) + "\n";
    if (!r.warnings.empty()) {
        out += "\nWarnings\n\n";
        for (const Warning& w : r.warnings)
            out += fmt::format("- {}: {}\n", plain_markdown(w.key), plain_markdown(w.text));
    }
    out += "\n- [ ] measured at the worst point\n- [ ] reviewed by, date:\n\n";
    return out + plain_markdown(one_line(caution)) + "\n";
}

namespace {

/// The suite of one case, and what it counts.
struct Suite {
    size_t tests = 0;
    int failures = 0, errors = 0;
    std::string text;
};

Suite suite_of(const CheckResult& r, const std::string& file) {
    const std::vector<Line> lines = requirement_lines(r);
    Suite out{lines.size(), 0, 0, {}};
    std::string cases;
    for (const Line& line : lines) {
        cases += fmt::format("    <testcase classname=\"{}\" name=\"{}\">\n", xml_attribute(file),
                             xml_attribute(line.name));
        if (line.outcome == Outcome::misses) {
            ++out.failures;
            cases += fmt::format("      <failure message=\"{}\">{}</failure>\n", xml_attribute(line.reason),
                                 xml_attribute(line.reason + "\n" + advice_line(r)));
        } else if (line.outcome == Outcome::open) {
            ++out.errors;
            cases +=
                fmt::format("      <error message=\"{}\"/>\n",
                            xml_attribute(r.undecided_reason.empty() ? line.reason : r.undecided_reason));
        } else {
            cases += fmt::format("      <system-out>{}</system-out>\n", xml_attribute(line.reason));
        }
        cases += "    </testcase>\n";
    }
    out.text = fmt::format(
        "  <testsuite name=\"{3}\" tests=\"{0}\" failures=\"{1}\" errors=\"{2}\" skipped=\"0\">\n", out.tests,
        out.failures, out.errors, xml_attribute(r.title.empty() ? file : r.title));
    out.text += cases;
    std::string remarks = one_line(advice_line(r));
    if (!r.assumed.empty()) remarks += "\n" + one_line(assumed_line(r));
    for (const auto& [edge, s] : r.gate_resistance)
        remarks += fmt::format("\nGate resistor for {}: {}", edge_word(edge), sizing_words(r, edge, s));
    for (const Warning& w : r.warnings) remarks += fmt::format("\n{}: {}", w.key, w.text);
    out.text += fmt::format("    <system-out>{}</system-out>\n  </testsuite>\n",
                            xml_attribute(remarks + "\n" + one_line(caution)));
    return out;
}

}  // namespace

std::string check_junit_suite(const CheckResult& result, const std::string& file) {
    return suite_of(result, file).text;
}

std::string check_junit(const CheckResult& result, const std::string& file) {
    const Suite suite = suite_of(result, file);
    return fmt::format(
        "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites tests=\"{}\" failures=\"{}\" "
        "errors=\"{}\">\n{}</testsuites>\n",
        suite.tests, suite.failures, suite.errors, suite.text);
}

}  // namespace ringquell
