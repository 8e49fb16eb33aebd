// Where a driver's return goes: Kelvin pins that are joined, wired, or left open.
#include <algorithm>

#include "ringquell/check.h"
#include "ringquell/network.h"
#include "ringquell/operating_path.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/relative.h"

using namespace ringquell;
using case_text::contains, case_text::read, case_text::replaced;

namespace {

std::string without_path() {
    return replaced(case_text::base, "kelvin_path: {inductance: 5 nH}\n", "");
}
std::string three_leads() {
    return replaced(without_path(), ", kelvin: 4 nH}", "}");
}

std::string warning(const Case& input, const std::string& key) {
    for (const Warning& w : input.warnings)
        if (w.key == key) return w.text;
    return {};
}

bool has_element(const Case& input, const std::string& name) {
    const Network network = build_network(input, operating_path(input).points.front());
    return std::any_of(network.elements.begin(), network.elements.end(),
                       [&](const Element& e) { return e.name == name; });
}

double least_damping(const Case& input) {
    CheckOptions options;
    options.size_gate_resistor = false;
    return check(input, options).worst_differential->mode.damping_ratio();
}

}  // namespace

TEST_CASE("with the return at the source rail and no Kelvin path the Kelvin pin goes nowhere") {
    const Case open = read(without_path(), {"driver.return_to=source_rail"});
    for (const Position& p : open.positions) CHECK(!p.kelvin_path);
    CHECK(contains(warning(open, "kelvin_path"), "the Kelvin pin goes nowhere"));
    // So the Kelvin lead carries nothing, and its inductance does not matter.
    const Case longer = read(without_path(), {"driver.return_to=source_rail", "device.package.kelvin=40 nH"});
    CHECK_RELATIVE(least_damping(longer), least_damping(open), 1e-12);
    // An ideal wire would tie the source pins together: another circuit.
    const Case wire = read(without_path(), {"driver.return_to=source_rail", "kelvin_path={}"});
    CHECK(wire.positions.front().kelvin_path.has_value());
    CHECK(std::abs(least_damping(wire) - least_damping(open)) > 1e-3);
    // It is written as it was read.
    CHECK(!read(write_case(open)).positions.front().kelvin_path);
    CHECK(read(write_case(wire)).positions.front().kelvin_path.has_value());
}

TEST_CASE("one position may have a Kelvin path where the others have none") {
    const Case mixed =
        read(without_path(), {"driver.return_to=source_rail", "kelvin_path[2].inductance=6 nH"});
    CHECK(!mixed.positions[0].kelvin_path);
    CHECK(mixed.positions[1].kelvin_path.has_value());
    CHECK(!positions_alike(mixed, operating_path(mixed).points.front()));
    CHECK(contains(warning(mixed, "kelvin_path"), "(position"));
    CHECK(has_element(mixed, "kelvin_path.inductance"));
}

TEST_CASE("a choke counts as a Kelvin path, and isolated drivers return at the pin") {
    const Case choke = read(without_path(), {"driver.return_to=source_rail",
                                             "common_mode_choke={inductance: 200 nH, leakage: 6 nH}"});
    CHECK(choke.positions.front().kelvin_path.has_value());
    CHECK(warning(choke, "kelvin_path").empty());
    const Case isolated = read(three_leads(), {"driver.per_position=isolated"});
    CHECK(isolated.positions.front().kelvin_path.has_value());
    CHECK(warning(isolated, "kelvin_path.inductance").empty());
}

TEST_CASE("parts of three leads say where the driver's return goes, or it is an error that names both keys") {
    for (const char* sharing : {"shared", "buffer"}) {
        CAPTURE(sharing);
        std::string text;
        try {
            read(three_leads(), {std::string("driver.per_position=") + sharing});
        } catch (const InputError& error) {
            text = error.what();
        }
        CHECK(contains(
            text,
            "kelvin_path: found neither `kelvin_path` nor `driver.return_to: source_rail` beside a device "
            "of three leads (no `device.package.kelvin`) at position 1, so nothing says where the driver's "
            "return goes; expected one of the two"));
        CHECK(contains(text, "a.yaml:"));
    }
    CHECK(!read(three_leads(), {"driver.return_to=source_rail"}).positions.front().kelvin_path);
    CHECK(read(three_leads(), {"kelvin_path={inductance: 5 nH}"}).positions.front().kelvin_path.has_value());
    CHECK(read(three_leads(), {"positions=1"}).positions.front().kelvin_path.has_value());
}

TEST_CASE("a Kelvin path that is an ideal wire warns where there is more than one position") {
    CHECK(contains(warning(read(case_text::base, {"kelvin_path={}"}), "kelvin_path.inductance"),
                   "real paths have 3 to 15 nH"));
    CHECK(warning(read(case_text::base), "kelvin_path.inductance").empty());
    CHECK(
        warning(read(case_text::base, {"kelvin_path={}", "positions=1"}), "kelvin_path.inductance").empty());
}
