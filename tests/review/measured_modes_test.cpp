// Measured rings beside what is computed at their points.
#include "review/measured_modes.h"

#include <doctest/doctest.h>

#include <cmath>
#include <nlohmann/json.hpp>
#include <numbers>

#include "ringquell/report.h"
#include "support/files.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;
using test_files::demonstration;

namespace {

const char* const two =
    "measured=[{frequency: 130 MHz, decay: 40 ns, at: turn_on current 2}, {frequency: 30 MHz, damping: 0.02, "
    "at: "
    "turn_off voltage 1}]";

CheckResult checked(const Case& input) {
    CheckOptions options;
    options.follow_modes = options.size_gate_resistor = options.gain_margin = false;
    return check(input, options);
}

}  // namespace

TEST_CASE("a measured ring is a mode: decay and damping ratio say the same") {
    MeasuredRing ring;
    ring.frequency_hz = 87e6;
    ring.decay_s = 40e-9;
    const Mode by_decay = measured_mode(ring);
    CHECK_RELATIVE(by_decay.ringing_frequency_hz(), 87e6, 1e-12);
    CHECK_RELATIVE(by_decay.eigenvalue.real(), -25e6, 1e-12);
    // ζ = σ/|λ|
    CHECK_RELATIVE(by_decay.damping_ratio(), 25e6 / std::hypot(25e6, 2 * std::numbers::pi * 87e6), 1e-12);
    ring.decay_s.reset();
    ring.damping_ratio = by_decay.damping_ratio();
    CHECK_RELATIVE(measured_mode(ring).eigenvalue.real(), -25e6, 1e-12);
    ring.damping_ratio = 0;
    CHECK(measured_mode(ring).eigenvalue.real() == 0);
}

TEST_CASE("a measured ring stands beside the nearest mode of its point, and changes no verdict") {
    const CheckResult plain = checked(demonstration("ropeway-first", {"operation.path.steps=4"}));
    const CheckResult result = checked(demonstration("ropeway-first", {"operation.path.steps=4", two}));
    CHECK(result.verdict == plain.verdict);
    CHECK(plain.measured.empty());
    REQUIRE(result.measured.size() == 2);
    for (const MeasuredMode& m : result.measured) {
        const PointResult& at = result.points[m.point];
        CHECK(at.point.name == m.ring.at);
        REQUIRE(m.nearest.has_value());
        for (const Mode& mode : at.modes.modes)
            if (mode.oscillates())
                CHECK(std::abs(mode.eigenvalue - m.seen.eigenvalue) >=
                      std::abs(m.nearest->eigenvalue - m.seen.eigenvalue));
    }
    CHECK(result.measured[0].nearest->kind == ModeKind::differential);
    CHECK(result.measured[1].nearest->kind == ModeKind::common);
}

TEST_CASE("a measured ring that is a mode finds that mode, in text and JSON") {
    Case input = demonstration("ropeway-first", {"operation.path.steps=4"});
    const CheckResult before = checked(input);
    const PointResult& at = before.points[2];
    const Mode* ringing = nullptr;
    for (const Mode& mode : at.modes.modes)
        if (mode.oscillates() && mode.eigenvalue.real() < 0 && ringing == nullptr) ringing = &mode;
    REQUIRE(ringing != nullptr);
    MeasuredRing ring;
    ring.frequency_hz = ringing->ringing_frequency_hz();
    ring.decay_s = -1 / ringing->eigenvalue.real();
    ring.at = at.point.name;
    input.measured = {ring};
    const CheckResult result = checked(input);
    REQUIRE(result.measured.size() == 1);
    const MeasuredMode& m = result.measured.front();
    CHECK_RELATIVE(m.nearest.value().damping_ratio(), ringing->damping_ratio(), 1e-9);
    CHECK_RELATIVE(m.seen.damping_ratio(), ringing->damping_ratio(), 1e-9);
    const std::string text = check_text(result);
    const size_t line = text.find("Measured at \"" + at.point.name + "\": ");
    REQUIRE(line != std::string::npos);
    const std::string words = text.substr(line, text.find('\n', line) - line);
    // The same words on both sides.
    const size_t first = words.find("\": ") + 3, parted = words.find("; nearest there: "),
                 mode = words.find("mode, ", parted);
    REQUIRE(mode != std::string::npos);
    CHECK(words.substr(first, parted - first) == words.substr(mode + 6));
    CHECK(words.find("falls to 1/e in") != std::string::npos);
    const auto json = nlohmann::json::parse(check_json(result))["measured"];
    REQUIRE(json.size() == 1);
    CHECK(json[0]["at"] == at.point.name);
    CHECK_RELATIVE(json[0]["decay_s"].get<double>(), *ring.decay_s, 1e-9);
    CHECK(json[0]["nearest"]["kind"] == kind_name(m.nearest->kind));
    CHECK_RELATIVE(json[0]["nearest"]["decay_s"].get<double>(), *ring.decay_s, 1e-9);
    CHECK(!nlohmann::json::parse(check_json(before)).contains("measured"));
}

TEST_CASE("a ring at a point that the path lacks is refused, with the nearest name") {
    const auto error = [](const std::string& at) -> std::string {
        try {
            checked(demonstration(
                "ropeway-first",
                {"operation.path.steps=4", "measured=[{frequency: 87 MHz, decay: 40 ns, at: " + at + "}]"}));
        } catch (const InputError& found) {
            return found.text();
        }
        return "";
    };
    CHECK(error("turn_on curent 2") ==
          "`turn_on curent 2` is no point of this case's path; did you mean `turn_on current 2`?");
    CHECK(error("turn_on current 2").empty());
    // Of many names the first and the last of each stage.
    CHECK(error("peak") ==
          "`peak` is no point of this case's path; valid here: `turn_on current 0` to `turn_on current 4`, "
          "`turn_on voltage 1` to `turn_on voltage 4`, `turn_off current 0` to `turn_off current 4`, "
          "`turn_off voltage 1` to `turn_off voltage 4`");
    try {
        checked(demonstration("ropeway-first",
                              {"measured=[{frequency: 87 MHz, decay: 40 ns, at: turn_on current 99}]"}));
        FAIL("read");
    } catch (const InputError& found) {
        CHECK(found.key() == "measured[1].at");
        CHECK(found.place().file == "--set");
    }
}
