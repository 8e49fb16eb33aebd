// require.passive_damping: a loop that only rings is not one that may start to oscillate.
#include <doctest/doctest.h>
#include <fmt/format.h>

#include <cmath>
#include <nlohmann/json.hpp>

#include "modes/gain_feed.h"
#include "network/reducer.h"
#include "ringquell/acceptable.h"
#include "ringquell/check.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "support/random_case.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

Case with_passive(const Case& input, double passive) {
    Case out = input;
    out.require.passive_damping = passive;
    return out;
}

CheckOptions plain() {
    CheckOptions out;
    out.size_gate_resistor = out.follow_modes = out.gain_margin = false;
    return out;
}

/// Does every differential mode meet what it needs with this gate resistor, and none grow?
bool acceptable_at(ModeSolver& solver, const OperatingPoint& point, double ohm) {
    for (const Mode& m : solver.with_gate_resistor(point, ohm))
        if (m.kind == ModeKind::differential && misses(m, solver.input().require)) return false;
    return true;
}

}  // namespace

TEST_CASE("a loop that gain does not feed needs the passive damping alone") {
    // No gm: everything there is rings by itself.
    const std::string text =
        case_text::replaced(case_text::base, "transconductance: 38 S", "transconductance: 0 S");
    const Case input = case_text::read(text, {"require.differential_damping=0.2"});
    const CheckResult before = check(input, plain());
    REQUIRE(before.worst_differential);
    const double damping = before.worst_differential->mode.damping_ratio();
    REQUIRE(damping > 0.01);
    REQUIRE(damping < 0.18);
    CHECK(before.verdict == Verdict::fail);
    const CheckResult after = check(with_passive(input, 0.9 * damping), plain());
    CHECK(after.verdict == Verdict::pass);
    REQUIRE(after.worst_differential);
    CHECK(after.worst_differential->mode.gain_feed == 0);
    CHECK(check(with_passive(input, 1.1 * damping), plain()).verdict == Verdict::fail);
}

TEST_CASE("of one die that feeds, the part is what the power balance gives its transconductance") {
    const Case input = with_passive(case_text::read(case_text::base), 0.02);
    const CheckResult result = check(input, plain());
    REQUIRE(result.worst_differential);
    const FoundMode& worst = *result.worst_differential;
    REQUIRE(worst.damping_by_gain < 0);
    CHECK_RELATIVE(worst.mode.gain_feed, -worst.damping_by_gain, 1e-9);
    const double needed = std::min(0.1, 0.02 + worst.mode.gain_feed);
    CHECK(damping_target(worst.mode, input.require) == needed);
    const auto json = nlohmann::json::parse(check_json(result));
    CHECK(json["worst"]["differential"]["damping_needed"] == needed);
    CHECK(json["requirement"]["passive_damping"] == 0.02);
    CHECK(case_text::contains(check_text(result),
                              "above the gain's part in the power balance, where that is less"));
}

TEST_CASE("of a lightly damped mode, twice the gain takes once more what it takes now, to first order") {
    const Case input = with_passive(
        case_text::read(
            case_text::replaced(case_text::base, "transconductance: 38 S", "transconductance: 10 mS"),
            {"gate_path.resistor=0.1 ohm", "device.gate_resistance=0.1 ohm",
             "device.channel.output_conductance=0 S"}),
        0.002);
    ModeSolver solver(input);
    const OperatingPoint point = operating_path(input).points.front();
    const auto least = [&](double gain) {
        const auto modes = solver.solve(with_gain(point, gain)).modes;
        for (const Mode& m : modes)
            if (m.kind == ModeKind::differential && m.oscillates() && in_band(m, input.require)) return m;
        FAIL("no differential mode");
        return Mode{};
    };
    const Mode now = least(1), twice = least(2);
    REQUIRE(now.gain_feed > 0);
    CHECK_RELATIVE(now.damping_ratio() - twice.damping_ratio(), now.gain_feed, 1e-2);
}

TEST_CASE("parts of dice do not cancel: what feeds counts alone") {
    // Two transconductances of one unknown: one feeds, the other damps as much.
    Network network;
    network.unknowns = {{"x", 1, false}};
    Element c;
    c.kind = ElementKind::capacitance;
    c.value = 2e-9;
    c.left = c.right = {{0, 1.0}};
    Element feeds;
    feeds.kind = ElementKind::transconductance;
    feeds.value = 3;
    feeds.left = {{0, -1.0}};
    feeds.right = {{0, 1.0}};
    Element damps = feeds;
    damps.left = {{0, 1.0}};
    network.elements = {c, feeds, damps};
    const GainParts parts = gain_parts(network, {-1e8, 2e8}, Eigen::VectorXcd::Constant(1, {0.3, -2}));
    CHECK(parts.all == 0);
    CHECK_RELATIVE(parts.feed, 3.0 / (std::abs(std::complex<double>(-1e8, 2e8)) * 2e-9), 1e-12);
}

TEST_CASE("blocks, whole and sparse find the same need") {
    random_case::Generator generator(1216);
    int fed = 0;
    for (int k = 0; k < 30; ++k) {
        CAPTURE(k);
        const Case input = with_passive(generator.raw({2 + k % 3, true, true}), 0.02);
        for (const OperatingPoint& point : operating_path(input).points) {
            const Modes blocks = ModeSolver(input, Method::blocks).solve(point);
            for (const Method method : {Method::whole, Method::sparse})
                for (const Mode& m : ModeSolver(input, method).solve(point).modes) {
                    if (m.kind != ModeKind::differential || !m.oscillates() || !in_band(m, input.require))
                        continue;
                    for (const Mode& b : blocks.modes)
                        if (b.kind == m.kind && relative_difference(b.eigenvalue, m.eigenvalue) < 1e-9 &&
                            b.multiplicity == m.multiplicity) {
                            fed += m.gain_feed > 1e-3;
                            CHECK(std::abs(m.gain_feed - b.gain_feed) <= 1e-6 * (1e-3 + b.gain_feed));
                        }
                }
        }
    }
    CHECK(fed > 30);
}

TEST_CASE(
    "the windows of the gate resistor are those of a dense scan, and complete where no mode lies between") {
    random_case::Generator generator(6);
    int complete = 0, followed = 0;
    for (int k = 0; k < 40; ++k) {
        CAPTURE(k);
        const bool alike = k % 4 != 3;
        const Case input = with_passive(generator.raw({2, alike, true}), 0.02);
        ModeSolver solver(input);
        for (const OperatingPoint& point : operating_path(input).points) {
            const Acceptable found =
                acceptable_gate_resistance(solver, {point}, point.edge, Effort::thorough);
            (found.complete ? complete : followed) += 1;
            const auto inside = [&](double ohm) {
                return std::any_of(found.windows.begin(), found.windows.end(),
                                   [&](const Window& w) { return ohm >= w.low && ohm <= w.high; });
            };
            const auto near_end = [&](double ohm) {
                return std::any_of(found.windows.begin(), found.windows.end(), [&](const Window& w) {
                    return std::abs(ohm - w.low) < 1e-3 || std::abs(ohm - w.high) < 1e-3;
                });
            };
            for (double ohm = 0.05; ohm < 47; ohm *= 1.21) {
                CAPTURE(ohm);
                if (!near_end(ohm)) CHECK(inside(ohm) == acceptable_at(solver, point, ohm));
            }
        }
    }
    CHECK(complete > 10);
    CHECK(followed > 3);
}

TEST_CASE("without the key nothing is asked of the gain's part, and none is computed") {
    const Case input = case_text::read(case_text::base);
    ModeSolver solver(input);
    for (const Mode& m : solver.solve(operating_path(input).points.front()).modes) {
        CHECK(m.gain_feed == 0);
        if (m.kind == ModeKind::differential) CHECK(damping_target(m, input.require) == 0.1);
    }
}

TEST_CASE("a passive damping of 1 or more is an error") {
    CHECK(case_text::contains(case_text::error_of(case_text::replaced(case_text::base, "damping: 0.1}",
                                                                      "damping: 0.1, passive_damping: 1}")),
                              "require.passive_damping: found `1`, expected a damping ratio below 1"));
}
