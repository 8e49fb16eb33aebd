// Many cases in one table, one JSON, one checklist.
#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "report/markup.h"
#include "report/parts.h"
#include "report/values.h"
#include "ringquell/check_many.h"
#include "ringquell/report.h"

namespace ringquell {

using namespace internal;

namespace {

std::string joined(const std::vector<std::string>& settings) {
    std::string out;
    for (const std::string& s : settings) out += (out.empty() ? "" : ", ") + s;
    return out;
}

/// The file with what was set; the file is left out where it is the same of all.
std::string name_in(const CaseVariant& v, bool one_file) {
    const std::string set = joined(v.settings);
    if (!one_file) return set.empty() ? v.file : v.file + ", " + set;
    return set.empty() ? "as it is" : set;
}

bool of_one_file(const std::vector<CheckedCase>& cases) {
    return cases.size() > 1 && std::all_of(cases.begin(), cases.end(), [&](const CheckedCase& c) {
               return c.variant.file == cases.front().variant.file;
           });
}

const char* word(const CheckedCase& c) {
    if (!c.verdict) return c.wrong_input ? "WRONG INPUT" : "NO VERDICT";
    return verdict_word(*c.verdict);
}

/// "23 ns", "doubles in 10 ns".
std::string short_pace(const Mode& m) {
    const double rate = m.eigenvalue.real();
    if (std::abs(rate) <= 1e-12 * std::abs(m.eigenvalue)) return "stays";
    return rate > 0 ? "doubles in " + engineering(std::log(2.0) / rate, Dimension::time, 2)
                    : engineering(-1 / rate, Dimension::time, 2);
}

/// "11 / 9.1": of turn-on and turn-off.
std::string both_edges(const CheckedCase& c, std::optional<double> CheckedCase::Resistor::*value) {
    std::string out;
    for (const auto& [edge, r] : c.resistors)
        out += (out.empty() ? "" : " / ") + (r.*value ? fmt::format("{:.4g}", *(r.*value)) : "none");
    return out.empty() ? "-" : out;
}

using Row = std::vector<std::string>;

const Row columns{"case",      "verdict", "least damped", "damping", "asked",    "margin",
                  "frequency", "to 1/e",  "at",           "least",   "preferred"};

Row row_of(const CheckedCase& c, bool one_file) {
    Row out{name_in(c.variant, one_file), word(c)};
    if (!c.verdict) {
        out.resize(columns.size(), "-");
        return out;
    }
    if (const auto& w = c.worst) {
        const Mode& m = w->mode;
        const Row more{kind_name(m.kind),
                       damping(m.damping_ratio()),
                       c.target > 0 ? damping(c.target) : "-",
                       c.target > 0 ? fmt::format("{:+.3f}", m.damping_ratio() - c.target) : "-",
                       frequency(m.natural_frequency_hz()),
                       short_pace(m),
                       c.worst_point};
        out.insert(out.end(), more.begin(), more.end());
    }
    out.resize(columns.size() - 2, "-");
    out.push_back(both_edges(c, &CheckedCase::Resistor::minimum_ohm));
    out.push_back(both_edges(c, &CheckedCase::Resistor::preferred_ohm));
    return out;
}

std::string aligned(const std::vector<Row>& rows) {
    std::vector<size_t> width(columns.size(), 0);
    for (const Row& r : rows)
        for (size_t k = 0; k < r.size(); ++k) width[k] = std::max(width[k], r[k].size());
    std::string out;
    for (const Row& r : rows) {
        std::string line;
        for (size_t k = 0; k < r.size(); ++k) line += fmt::format("  {:<{}}", r[k], width[k]);
        line.erase(line.find_last_not_of(' ') + 1);
        out += line + "\n";
    }
    return out;
}

std::string tally(const std::vector<CheckedCase>& cases) {
    std::string out = counted(static_cast<std::int64_t>(cases.size()), "case");
    const auto add = [&](auto test, const char* one, const char* many) {
        const auto n = std::count_if(cases.begin(), cases.end(), test);
        if (n > 0) out += fmt::format(", {} {}", n, n == 1 ? one : many);
    };
    const auto has = [](Verdict v) { return [v](const CheckedCase& c) { return c.verdict == v; }; };
    add(has(Verdict::pass), "passes", "pass");
    add(has(Verdict::fail), "fails", "fail");
    add(has(Verdict::undecided), "undecided", "undecided");
    add([](const CheckedCase& c) { return !c.verdict; }, "not judged", "not judged");
    return out;
}

Json worst_value(const CheckedCase& c) {
    if (!c.worst) return Json::object();
    const Mode& m = c.worst->mode;
    Json out{{"point", c.worst_point},
             {"kind", kind_name(m.kind)},
             {"damping_ratio", m.damping_ratio()},
             {"natural_frequency_hz", m.natural_frequency_hz()},
             {"damping_required", c.target > 0 ? Json(c.target) : Json()},
             {"margin", c.target > 0 ? Json(m.damping_ratio() - c.target) : Json()}};
    add_pace(out, m);
    return out;
}

Json case_value(const CheckedCase& c) {
    Json out{{"file", c.variant.file}, {"set", c.variant.settings}};
    if (!c.verdict) {
        out["verdict"] = nullptr;
        out["error"] = c.error;
        out["wrong_input"] = c.wrong_input;
        return out;
    }
    out["title"] = c.title;
    out["positions"] = c.positions;
    out["verdict"] = verdict_name(*c.verdict);
    out["worst"] = worst_value(c);
    out["passes_in_passing"] = c.passes_in_passing;
    out["gate_resistance"] = Json::object();
    for (const auto& [edge, r] : c.resistors)
        out["gate_resistance"][edge_name(edge)] = {{"fitted_ohm", r.fitted_ohm},
                                                   {"minimum_ohm", or_null(r.minimum_ohm)},
                                                   {"preferred_ohm", or_null(r.preferred_ohm)}};
    return out;
}

}  // namespace

std::string cases_text(const std::vector<CheckedCase>& cases, bool quiet) {
    std::string out = tally(cases) + "\n";
    const bool one_file = of_one_file(cases);
    if (quiet) {
        for (const CheckedCase& c : cases)
            out += fmt::format("{}: {}\n", word(c), name_in(c.variant, one_file));
        return out;
    }
    if (one_file) out += cases.front().variant.file + "\n";
    std::vector<Row> rows{columns};
    for (const CheckedCase& c : cases) rows.push_back(row_of(c, one_file));
    out += "\n" + aligned(rows);
    out +=
        "\n\"least damped\" is the mode that a check of the case alone puts first; \"least\" and "
        "\"preferred\" are "
        "gate resistors in ohm, of turn-on / turn-off.\n";
    for (const CheckedCase& c : cases) {
        if (!c.verdict) out += fmt::format("\n{}: {}\n", word(c), c.error);
        if (c.verdict && !c.passes_in_passing)
            out += fmt::format("\n{}: fails in passing, at points that the table does not show\n",
                               name_in(c.variant, one_file));
    }
    return out + "\n" + caution;
}

std::string cases_json(const std::vector<CheckedCase>& cases) {
    Json list = Json::array();
    for (const CheckedCase& c : cases) list.push_back(case_value(c));
    return printed({{"ringquell", version}, {"verb", "check"}, {"cases", list}, {"caution", caution}});
}

std::string cases_markdown(const std::vector<CheckedCase>& cases) {
    const bool one_file = of_one_file(cases);
    std::string out = fmt::format("# Parallel oscillation: {}\n\n|", tally(cases));
    for (const std::string& c : columns) out += " " + c + " |";
    out += "\n|" + [] {
        std::string rule;
        for (size_t k = 0; k < columns.size(); ++k) rule += "---|";
        return rule;
    }() + "\n";
    for (const CheckedCase& c : cases) {
        out += "|";
        for (const std::string& cell : row_of(c, one_file)) out += " " + plain_markdown(cell) + " |";
        out += "\n";
    }
    for (const CheckedCase& c : cases) {
        out += fmt::format("\n# {}\n\n", plain_markdown(name_in(c.variant, false)));
        out += c.verdict ? c.document : fmt::format("{}: {}\n", word(c), plain_markdown(c.error));
    }
    return out;
}

std::string cases_junit(const std::vector<CheckedCase>& cases) {
    std::string suites;
    for (const CheckedCase& c : cases) {
        if (c.verdict) {
            suites += c.document;
            continue;
        }
        const std::string name = xml_attribute(name_in(c.variant, false));
        suites += fmt::format(
            "  <testsuite name=\"{0}\" tests=\"1\" failures=\"0\" errors=\"1\" skipped=\"0\">\n"
            "    <testcase classname=\"{0}\" name=\"the case can be judged\">\n"
            "      <error message=\"{1}\"/>\n    </testcase>\n  </testsuite>\n",
            name, xml_attribute(c.error));
    }
    return "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n<testsuites>\n" + suites + "</testsuites>\n";
}

}  // namespace ringquell
