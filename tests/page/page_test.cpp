// The page: what its plots are drawn from, that it holds its case, and that it can be read back. What a
// browser makes of it is in tests/page.
#include "ringquell/page.h"

#include <doctest/doctest.h>

#include <Eigen/Dense>
#include <complex>
#include <nlohmann/json.hpp>
#include <numbers>
#include <sstream>

#include "page/drawing.h"
#include "review/damping_plane.h"
#include "review/gate_sweep.h"
#include "review/mode_shape.h"
#include "ringquell/network.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;
using nlohmann::json;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";

CheckResult checked(const Case& input) {
    CheckOptions options;
    options.follow_modes = false;
    return check(input, options);
}

json data_of(const std::string& html) {
    const std::string start = "<script type=\"application/json\" id=\"ringquell-data\">";
    const size_t begin = html.find(start);
    REQUIRE(begin != std::string::npos);
    return json::parse(
        html.substr(begin + start.size(), html.find("</script>", begin) - begin - start.size()));
}

/// f(t) from its Laplace transform by the Euler algorithm of Abate & Whitt, "A Unified Framework for
/// Numerically Inverting Laplace Transforms", INFORMS Journal on Computing 18(4), 2006, section 5 (from
/// memory). Good while t is a few periods of what f holds.
template <class Transform>
double inverse_laplace(const Transform& transform, double t) {
    constexpr int m = 18;
    std::vector<double> xi(2 * m + 1, 1.0);
    xi[0] = 0.5;
    xi[2 * m] = std::pow(2.0, -m);
    double binomial = 1;
    for (int k = 1; k < m; ++k) {
        binomial *= static_cast<double>(m - k + 1) / k;
        xi[static_cast<size_t>(2 * m - k)] =
            xi[static_cast<size_t>(2 * m - k + 1)] + std::pow(2.0, -m) * binomial;
    }
    double sum = 0;
    for (int k = 0; k <= 2 * m; ++k) {
        const std::complex<double> beta(m * std::log(10.0) / 3, std::numbers::pi * k);
        sum +=
            (k % 2 ? -1 : 1) * xi[static_cast<size_t>(k)] * std::complex<double>(transform(beta / t)).real();
    }
    return std::pow(10.0, m / 3.0) / t * sum;
}

/// Gate-source voltages by the transform of the whole network: (sE − A)·X = b.
double gate_voltage(const Network& network, int disturbed, int seen, double time_s) {
    const Eigen::MatrixXcd e = (Eigen::MatrixXd(network.e()) * 1e9).cast<std::complex<double>>();
    const Eigen::MatrixXcd a = Eigen::MatrixXd(network.a()).cast<std::complex<double>>();
    const auto capacitance = [&](int position) {
        for (const Element& x : network.elements)
            if (x.position == position && x.name == "device.capacitance.cgs") return x;
        throw std::logic_error("no gate");
    };
    const Element put = capacitance(disturbed), got = capacitance(seen);
    Eigen::VectorXcd b = Eigen::VectorXcd::Zero(network.size());
    for (const auto& [i, s] : put.left) b[i] += s * put.value * 1e9;
    const auto transform = [&](std::complex<double> s) {
        const Eigen::VectorXcd x = (s * e - a).partialPivLu().solve(b);
        std::complex<double> out = 0;
        for (const auto& [i, sign] : got.right) out += sign * x[i];
        return out;
    };
    return inverse_laplace(transform, time_s / 1e-9);
}

}  // namespace

TEST_CASE("the numerical inversion is right for a decaying swing") {
    const auto transform = [](std::complex<double> s) { return 2.0 / ((s + 0.1) * (s + 0.1) + 4.0); };
    for (const double t : {0.5, 2.0, 6.0})
        CHECK(std::abs(inverse_laplace(transform, t) - std::exp(-0.1 * t) * std::sin(2 * t)) < 1e-7);
}

TEST_CASE("FNV-1a of the draft's texts") {
    // draft-eastlake-fnv, test vectors (from memory).
    CHECK(text_hash("") == "cbf29ce484222325");
    CHECK(text_hash("a") == "af63dc4c8601ec8c");
    CHECK(text_hash("foobar") == "85944171f73967e8");
}

TEST_CASE("sweep: each value is what a check of the case with that resistor says") {
    for (const char* name : {"ropeway-first.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 4;
        const CheckResult result = checked(input);
        for (const GateSweep& sweep : sweep_gate_resistors(input, result)) {
            CHECK(sweep.points == sweep.points_of_edge);
            REQUIRE(sweep.values.size() > 40);
            CHECK(sweep.values.front().ohm == 0);
            CHECK(sweep.values.back().ohm == input.require.gate_resistance_limit_ohm);
            for (size_t k = 0; k < sweep.values.size(); k += 9) {
                const SweptValue& value = sweep.values[k];
                Case fitted = input;
                fit_gate_resistor(fitted, sweep.edge, value.ohm);
                CheckOptions plain;
                plain.size_gate_resistor = plain.follow_modes = false;
                double differential = 2, common = 2;
                int growing = 0;
                bool passes = true;
                for (const PointResult& r : check(fitted, plain).points) {
                    if (r.point.edge != sweep.edge) continue;
                    for (const Mode& mode : r.modes.modes) {
                        growing += grows(mode);
                        passes = passes && !misses(mode, input.require);
                        if (!mode.oscillates() || !in_band(mode, input.require)) continue;
                        double& least = mode.kind == ModeKind::common ? common : differential;
                        least = std::min(least, mode.damping_ratio());
                    }
                }
                CHECK(value.passes == passes);
                CHECK(value.growing == growing);
                CHECK_RELATIVE(value.differential ? value.differential->damping_ratio : 2.0, differential,
                               1e-9);
                CHECK_RELATIVE(value.common ? value.common->damping_ratio : 2.0, common, 1e-9);
            }
        }
    }
}

TEST_CASE("sweep: at a window's end the least damping is the one that is asked") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    const CheckResult result = checked(input);
    int ends = 0;
    for (const GateSweep& sweep : sweep_gate_resistors(input, result))
        for (const Window& w : result.gate_resistance.at(sweep.edge).acceptable.windows)
            for (const SweptValue& value : sweep.values)
                if (value.ohm == w.low && w.low_bound == Bound::damping) {
                    CHECK_RELATIVE(value.differential->damping_ratio, input.require.differential_damping,
                                   1e-6);
                    ++ends;
                }
    CHECK(ends == 2);
}

#ifndef RINGQUELL_SANITIZED  // minutes there
TEST_CASE("sweep: a large uneven layout is swept at its hardest points, and says so") {
    Case input = read_case(cases + "mine-hoist-bus.yaml");
    while (input.n() < 24) input.positions.push_back(input.positions.front());
    for (auto& bus : input.buses) {
        bus->inductance_h.resize(23, bus->inductance_h.front());
        bus->resistance_ohm.resize(23, bus->resistance_ohm.front());
    }
    input.operation.path->steps = 8;
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = false;
    CheckResult result = check(input, options);
    EdgeSizing sizing;
    sizing.acceptable.key = "gate_path.resistor";
    sizing.fitted_lowest_ohm = sizing.fitted_highest_ohm = 6.8;
    result.gate_resistance[Edge::turn_off] = sizing;
    const auto sweeps = sweep_gate_resistors(input, result);
    REQUIRE(sweeps.size() == 1);
    CHECK(sweeps[0].points < sweeps[0].points_of_edge);
    CHECK(sweeps[0].points >= 1);
    CHECK(sweeps[0].values.size() >= 8);
    CHECK(std::any_of(sweeps[0].values.begin(), sweeps[0].values.end(),
                      [](const SweptValue& v) { return v.ohm == 6.8; }));
}
#endif

TEST_CASE("plane: its row at the load current is the voltage transfer of the walk") {
    for (const char* name : {"ropeway-first.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 16;
        CheckOptions options;
        options.follow_modes = options.size_gate_resistor = false;
        const CheckResult result = check(input, options);
        const auto planes = damping_planes(input, result);
        REQUIRE(planes.size() == 2);
        for (const DampingPlane& plane : planes) {
            CHECK(plane.not_shown.empty());
            REQUIRE(plane.rows.size() == 12);
            const auto& row = plane.rows.back();
            REQUIRE(row.size() == 16);
            size_t k = 0;
            for (const PointResult& r : result.points) {
                if (r.point.edge != plane.edge ||
                    r.point.stage != std::string(edge_name(plane.edge)) + " voltage")
                    continue;
                CHECK_RELATIVE(row[k].vds_v, r.point.vds_v, 1e-12);
                CHECK_RELATIVE(row[k].current_a, r.point.current_a, 1e-12);
                double least = 2;
                for (const Mode& mode : r.modes.modes)
                    if (mode.kind == ModeKind::differential && mode.oscillates() &&
                        in_band(mode, input.require))
                        least = std::min(least, mode.damping_ratio());
                CHECK_RELATIVE(row[k].differential.value_or(2), least, 1e-9);
                ++k;
            }
            CHECK(k == 16);
        }
    }
}

TEST_CASE("plane: a case without bus voltage has none, and says why") {
    Case input = read_case(std::string(RINGQUELL_TEST_DATA) + "/reference/star-4-mosfet.yaml");
    input.operation.bus_voltage_v.reset();
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = false;
    for (const DampingPlane& plane : damping_planes(input, check(input, options))) {
        CHECK(plane.rows.empty());
        CHECK(plane.not_shown ==
              "the case gives no bus voltage or no load current, so there is no plane to cover");
    }
}

TEST_CASE("shape: alike positions swing as one or against the others, uneven ones as their eigenvector") {
    const Case alike = read_case(cases + "ropeway-first.yaml");
    for (const ModeShape& shape : mode_shapes(alike, checked(alike))) {
        std::complex<double> sum = 0;
        double energy = shape.shared_energy;
        for (const Phasor& p : shape.positions) {
            sum += p.amplitude;
            energy += p.energy_share;
        }
        CHECK(std::abs(energy - 1) < 1e-9);
        CHECK(std::abs(sum - (shape.mode.kind == ModeKind::common ? 4.0 : 0.0)) < 1e-12);
        CHECK(shape.one_of_many == (shape.mode.kind == ModeKind::differential));
    }
    const Case uneven = read_case(cases + "mine-hoist-bus.yaml");
    const CheckResult result = checked(uneven);
    const auto shapes = mode_shapes(uneven, result);
    REQUIRE(shapes.size() == 2);
    for (const ModeShape& shape : shapes) {
        double energy = shape.shared_energy, largest = 0;
        for (const Phasor& p : shape.positions) {
            energy += p.energy_share;
            largest = std::max(largest, std::abs(p.amplitude));
        }
        CHECK(std::abs(energy - 1) < 1e-9);
        CHECK(std::abs(largest - 1) < 1e-12);
        CHECK(!shape.one_of_many);
    }
}

TEST_CASE("ring: the sum of the modes is the inverse transform of the whole network's answer") {
    for (const char* name : {"ropeway-first.yaml", "ropeway-cured.yaml", "mine-hoist-bus.yaml"}) {
        CAPTURE(name);
        Case input = read_case(cases + name);
        input.operation.path->steps = 4;
        const CheckResult result = checked(input);
        const Ring ring = ring_after_disturbance(input, result);
        REQUIRE(ring.not_shown.empty());
        REQUIRE(!ring.curves.empty());
        const Network whole = build_network(input, result.points[ring.point].point);
        for (const size_t sample : {size_t{10}, size_t{40}, size_t{90}})
            for (const Ring::Curve& curve : ring.curves)
                for (const int position : curve.positions) {
                    CAPTURE(sample);
                    CAPTURE(position);
                    CHECK(std::abs(curve.voltage_v[sample] - gate_voltage(whole, ring.disturbed, position,
                                                                          ring.time_s[sample])) < 1e-5);
                }
        CHECK(std::abs(ring.curves[0].voltage_v[0] - 1) < 0.05);
    }
}

TEST_CASE("page: it holds the numbers of the check and the case, and asks for nothing from outside") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    PageOptions options;
    options.made = "2026-01-02 03:04 UTC";
    const Page page = make_page(input, options);
    CHECK(page.result.verdict == Verdict::fail);
    CHECK(page.html.size() < 600'000);
    const json data = data_of(page.html);
    CHECK(data["case"]["text"] == write_case(input));
    CHECK(data["case"]["hash"] == text_hash(write_case(input)));
    CHECK(data["made"] == "2026-01-02 03:04 UTC");
    CHECK(data["check"]["points"].size() == 98);
    CHECK_RELATIVE(data["check"]["worst"]["differential"]["damping_ratio"].get<double>(),
                   page.result.worst_differential->mode.damping_ratio(), 1e-6);
    for (const char* key : {"sweeps", "planes", "shapes", "ring", "beads", "explain", "choose", "budget"})
        CHECK(data.contains(key));
    CHECK(!data.contains("spread"));
    // Nothing is loaded: no address in an attribute, and a policy that forbids it.
    for (const char* loads : {" src=", "href=\"http", "url(", "@import"}) {
        CAPTURE(loads);
        const size_t library = page.html.find("Chart.js");
        REQUIRE(library != std::string::npos);
        CHECK(page.html.substr(0, library).find(loads) == std::string::npos);
    }
    CHECK(page.html.find("default-src 'none'") != std::string::npos);
    CHECK(page.html.find("A DC link kills.") != std::string::npos);
    CHECK(page.html.find("Signature") != std::string::npos);
}

TEST_CASE("page: names are text, whatever they hold") {
    const std::string title = "</script><script>alert(1)</script> & \"quotes\" <!-- '";
    Case input = read_case(cases + "ropeway-first.yaml");
    input.operation.path->steps = 2;
    input.title = title;
    const Page page = make_page(input);
    CHECK(page.html.find("<script>alert") == std::string::npos);
    CHECK(page.html.find("<!--") == std::string::npos);
    CHECK(page.html.find("&lt;script&gt;alert(1)&lt;/script&gt; &amp; &quot;quotes&quot; &lt;!-- &#39;") !=
          std::string::npos);
    CHECK(data_of(page.html)["check"]["title"] == title);
    CHECK(read_page(page.html, "x.html").title == title);
}

TEST_CASE("page: 64 positions, no two alike, stay below 2 MB") {
    Case input = read_case(cases + "ropeway-first.yaml");
    input.operation.path->steps = 2;
    while (input.n() < 64) input.positions.push_back(input.positions.front());
    double more = 1;
    for (Position& p : input.positions) p.device.gate_resistance.value_ohm *= more += 0.001;
    *input.operation.load_current_a *= 16;
    PageOptions options;
    options.check.size_gate_resistor = options.check.follow_modes = false;
    const size_t few = make_page(input, options).html.size();
    input.operation.path->steps = 4;
    const size_t more_points = make_page(input, options).html.size();
    // 8 and 16 points of both edges; a default walk has 96.
    CHECK(few + static_cast<size_t>(88.0 / 8 * static_cast<double>(more_points - few)) < 2'000'000);
}

TEST_CASE("page: read back, it says what has changed") {
    const std::string file = cases + "ropeway-cured.yaml";
    Case input = read_case(file);
    input.operation.path->steps = 2;
    PageOptions options;
    options.budget = false;
    const Page page = make_page(input, options);
    const PageRecord record = read_page(page.html, "page.html");
    CHECK(record.file == "ropeway-cured.yaml");
    CHECK(record.verdict == "pass");
    CHECK(record.case_text == write_case(input));
    CHECK(changed_since(record, input).empty());
    Case changed = input;
    changed.positions[1].gate_path.inductance_h = 15e-9;
    changed.power_loop.dc_link->esl_h = 7e-9;
    CHECK(changed_since(record, changed) ==
          std::vector<std::string>{"gate_path.inductance: was 9 nH, is 9 nH, 15 nH",
                                   "power_loop.dc_link.esl: was 6 nH, is 7 nH"});
    changed = input;
    changed.title = "another";
    const std::vector<std::string> lines = changed_since(record, changed);
    REQUIRE(lines.size() == 2);
    CHECK(lines[0] == "- title: \"ropeway brake inverter, with a bead in each gate path\"");
    CHECK(lines[1] == "+ title: \"another\"");
    changed = input;
    changed.positions.pop_back();
    CHECK(!changed_since(record, changed).empty());
}

TEST_CASE("page: what is no page, or is damaged, is refused") {
    const auto message = [](const std::string& html) -> std::string {
        try {
            read_page(html, "x.html");
        } catch (const InputError& error) {
            return error.what();
        }
        return "read";
    };
    const std::string expected = "; expected a page that `ringquell report` has written";
    CHECK(message("<html></html>") == "x.html: found no data of this command" + expected);
    Case input = read_case(cases + "ice-rink-cascode.yaml");
    const std::string html = make_page(input).html;
    CHECK(message(html) == "read");
    const size_t begin = html.find("ringquell-data");
    CHECK(message(html.substr(0, begin + 500)) == "x.html: the page ends within its data" + expected);
    std::string damaged = html;
    damaged.replace(damaged.find("\"page\":1"), 8, "\"page\":}");
    CHECK(message(damaged) == "x.html: the data of the page are damaged" + expected);
    damaged = html;
    const size_t value = damaged.find("1.3e-09 F");
    REQUIRE(value != std::string::npos);
    damaged[value] = '9';
    CHECK(message(damaged) == "x.html: the case in the page is not the one its hash is of" + expected);
}

TEST_CASE("drawing: every part of the position is there, and what holds the energy stands out") {
    const Case input = read_case(cases + "ropeway-first.yaml");
    const OperatingPoint point = operating_path(input).points.front();
    const std::string plain = position_drawing(input, point, 1, {});
    CHECK(plain.find("class=\"hot\"") == std::string::npos);
    for (const char* value :
         {"9 nH", "6 nH", "1.2 ohm", "7 nH", "470 pF", "6.8 ohm", "210 pF", "3.3 nF", "16 pF"}) {
        CAPTURE(value);
        CHECK(plain.find(value) != std::string::npos);
    }
    const std::string hot = position_drawing(input, point, 1, {{"snubber.capacitance", 0.25}});
    CHECK(hot.find("class=\"hot\"") != std::string::npos);
    CHECK(hot.find("25 %") != std::string::npos);
    CHECK(hot.find("snubber.capacitance (25 %)") != std::string::npos);  // in words, for who cannot see it
    const Case cascode = read_case(cases + "ice-rink-cascode.yaml");
    const std::string tall = position_drawing(cascode, operating_path(cascode).points.front(), 1, {});
    for (const char* value : {"JFET", "400 pH", "600 pH", "1.3 nF", "650 pF"})
        CHECK(tall.find(value) != std::string::npos);
}

TEST_CASE("report: the command writes a page, reads it back, and says what is missing") {
    const Folder folder;
    const std::string page = folder / "page.html", file = cases + "ice-rink-cascode.yaml";
    const auto made = run("report " + file + " -o " + page);
    CHECK(made.status == 1);
    CHECK(made.out.find("FAIL: ice rink compressor drive") == 0);
    CHECK(made.out.find("The page is " + page + " (") != std::string::npos);
    auto back = run("report " + file + " --read " + page);
    CHECK(back.status == 0);
    CHECK(back.out.find("has not changed since") != std::string::npos);
    back = run("report " + file + " --set gate_path.resistor=5ohm --read " + page);
    CHECK(back.status == 1);
    CHECK(back.out.find("HAS CHANGED since") != std::string::npos);
    CHECK(back.out.find("gate_path.resistor: was 6.8 ohm, 1 ohm, is 5 ohm") != std::string::npos);
    CHECK(run("report --read " + page).status == 0);
    CHECK(run("report " + file).err ==
          "ringquell: --output: missing; expected the page to write, such as `-o review.html`\n");
    CHECK(run("report").err == "ringquell: CASE: missing; expected the case file, or --read FILE.html\n");
    const auto itself = run("report " + file + " -o " + file);
    CHECK(itself.status == 2);
    CHECK(itself.err.find("is the case itself; expected another file") != std::string::npos);
}

TEST_CASE("check --format: a Markdown checklist and JUnit XML carry the verdict's lines") {
    const std::string file = cases + "ropeway-first.yaml";
    const auto md = run("check " + file + " --format md");
    CHECK(md.status == 1);
    CHECK(md.out.find("## Parallel oscillation: fails\n") == 0);
    CHECK(md.out.find(
              "- [ ] differential modes: damping ratio at least 0.1 from 1 MHz to 300 MHz: **misses.**") !=
          std::string::npos);
    CHECK(md.out.find("- [x] common modes") != std::string::npos);
    CHECK(md.out.find("- [ ] nothing grows at any frequency: **misses.**") != std::string::npos);
    CHECK(md.out.find("measured at the worst point") != std::string::npos);
    CHECK(md.out.find("follow local codes") != std::string::npos);
    const auto xml = run("check " + file + " --format junit");
    CHECK(xml.status == 1);
    CHECK(xml.out.find("<testsuites tests=\"3\" failures=\"2\" errors=\"0\">") != std::string::npos);
    CHECK(xml.out.find("<testcase classname=\"ropeway-first.yaml\" name=\"nothing grows at any "
                       "frequency\">\n      <failure") != std::string::npos);
    const auto cured = run("check " + cases + "ropeway-cured.yaml --format junit");
    CHECK(cured.status == 0);
    CHECK(cured.out.find("failures=\"0\" errors=\"0\"") != std::string::npos);
    CHECK(cured.out.find("<failure") == std::string::npos);
    // Titles are text here too.
    const auto odd =
        run("check " + cases + "ropeway-cured.yaml --set 'title=\"a <b> & *c* | d\"' --format junit");
    CHECK(odd.out.find("<testsuite name=\"a &lt;b&gt; &amp; *c* | d\"") != std::string::npos);
    const auto odd_md =
        run("check " + cases + "ropeway-cured.yaml --set 'title=\"a <b> & *c* | d\"' --format md");
    CHECK(odd_md.out.find("a \\<b\\> & \\*c\\* \\| d: 4 positions") != std::string::npos);
}

TEST_CASE("check: a plot in a terminal that shows UTF-8, plain text elsewhere") {
    const std::string file = cases + "ropeway-first.yaml", heading = "Damping ratio along the path";
    CHECK(run("check " + file).out.find(heading) == std::string::npos);
    const std::string plotted = run("check " + file + " --plot always").out;
    CHECK(plotted.find("FAIL: ") == 0);
    CHECK(plotted.find("nothing may grow at any frequency\n\n" + heading) != std::string::npos);
    CHECK(plotted.find("turn_off voltage\n\nWorst differential mode") != std::string::npos);
    CHECK(run("check " + file + " --plot always --quiet").out.find(heading) == std::string::npos);
    CHECK(run("check " + file + " --plot always --format md").out.find(heading) == std::string::npos);
    // script(1) gives the command a terminal.
    const auto in_terminal = [&](const std::string& environment, const std::string& more = "") {
        const Folder folder;
        const std::string out = folder / "terminal.txt";
        const std::string command = "env -u LC_ALL -u LC_CTYPE TERM=xterm " + environment +
                                    " script -qec '" RINGQUELL_COMMAND " check " + file + more +
                                    "' /dev/null > " + out + " < /dev/null";
        CHECK(std::system(command.c_str()) != -1);
        const std::string text = content(out);
        CHECK(text.find("FAIL: ropeway") != std::string::npos);
        return text.find(heading) != std::string::npos;
    };
    CHECK(in_terminal("LANG=C.UTF-8"));
    CHECK(in_terminal("LANG=de_DE.utf8"));
    CHECK(!in_terminal("LANG=C"));
    CHECK(!in_terminal("LC_ALL=C LANG=C.UTF-8"));
    CHECK(!in_terminal("LANG=C.UTF-8 TERM=dumb"));
    CHECK(!in_terminal("LANG=C.UTF-8", " --plot never"));
}

TEST_CASE("plot: a mode on the wrong side of a line is drawn on the wrong side, however close") {
    CheckResult result;
    result.require.differential_damping = 0.1;
    for (const double damping : {0.0999, 0.1001, -0.0001, 0.3}) {
        PointResult point;
        point.point.name = point.point.stage = "p";
        const double omega = 2 * std::numbers::pi * 100e6;
        point.modes.modes.push_back(
            {{-damping * omega, omega * std::sqrt(1 - damping * damping)}, ModeKind::differential, 0, 1});
        result.points.push_back(point);
    }
    std::istringstream lines(damping_plot(result, 80));
    std::string line, asked, zero;
    for (int row = 0; std::getline(lines, line); ++row) {
        if (row > 0 && line.starts_with("    0.1")) asked = line;
        if (row > 0 && line.starts_with("      0")) zero = line;
    }
    const auto marks = [](const std::string& text) {
        int count = 0;
        for (size_t at = 0; (at = text.find("●", at)) != std::string::npos; ++at) ++count;
        return count;
    };
    CHECK(marks(asked) == 1);
    CHECK(marks(zero) == 0);
    CHECK(damping_plot(result, 20).empty());
    CHECK(damping_plot({}, 80).empty());
}
