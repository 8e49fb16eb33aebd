// What a probe would pick up: closed forms, symmetry, and the probe's own weight.
#include "ringquell/pickup.h"

#include <algorithm>
#include <cmath>
#include <complex>
#include <nlohmann/json.hpp>
#include <numbers>

#include "ringquell/picked_modes.h"
#include "ringquell/ports.h"
#include "support/case_text.h"
#include "support/files.h"
#include "support/random_case.h"
#include "support/relative.h"
#include "support/run_command.h"

using namespace ringquell;
using case_text::contains;

namespace {

using Complex = std::complex<double>;

Probe between(const std::string& from, const std::string& to, double farad = 0,
              std::optional<double> ohm = {}, double henry = 0) {
    return {"", from, to, farad, ohm, henry, {}};
}

Pickup seen(const Case& input, const std::vector<PickedMode>& modes, const std::string& from,
            const std::string& to) {
    PickupOptions options;
    options.probe = between(from, to);
    return pickup(input, modes, options);
}

/// Y of a probe: its leads, then capacitance and resistance beside each other.
Complex admittance(const Probe& p, Complex s) {
    const Complex tip = s * p.capacitance_f + (p.resistance_ohm ? 1 / *p.resistance_ohm : 0);
    return 1.0 / (s * p.inductance_h + 1.0 / tip);
}

std::vector<PickedMode> worst_of(const Case& input) {
    CheckOptions plain;
    plain.size_gate_resistor = plain.gain_margin = false;
    return modes_to_probe(check(input, plain));
}

/// A gate loop that hangs on nothing else, and its mode: L·C·s² + R·C·s + 1 = 0.
struct LoneLoop {
    Case input = case_text::read(case_text::replaced(case_text::base, "edge: turn_on", "edge: turn_off"),
                                 {"positions=1", "gate_path.resistor=0.5 ohm"});
    OperatingPoint point = operating_path(input).points.front();
    double ohm = 0.5 + 0.5 + 1.1, henry = (7 + 5 + 5 + 4) * 1e-9, farad = 2.3e-9;
    Complex s{-ohm / (2 * henry), std::sqrt(1 / (henry * farad) - std::pow(ohm / (2 * henry), 2))};

    LoneLoop() {
        DieValues& die = point.devices.front().mosfet;
        die.transconductance_s = die.output_conductance_s = die.cgd_f = 0;
    }
    PickedMode mode() const {
        for (const Mode& m : ModeSolver(input).solve(point).modes)
            if (relative_difference(m.eigenvalue, s) < 1e-9) return {"the loop", point, m, true};
        FAIL("the loop's mode is not there");
        return {};
    }
};

}  // namespace

TEST_CASE("of a lone gate loop pins and rails show what its current drops between them") {
    const LoneLoop loop;
    // The loop's current for 1 V on the chip is s·C.
    const Complex current = loop.s * loop.farad;
    const Complex at_pins = 1.0 + current * (1.1 + loop.s * (5e-9 + 4e-9)), at_rails = current * 0.5;
    const PickupMode pins = seen(loop.input, {loop.mode()}, "gate pin[1]", "Kelvin pin[1]").modes.front();
    CHECK_RELATIVE(std::polar(pins.view->volts, pins.view->phase_rad), at_pins, 1e-9);
    REQUIRE(pins.positions.size() == 1);
    CHECK_RELATIVE(pins.positions[0].pins, at_pins, 1e-9);
    CHECK_RELATIVE(pins.positions[0].chip, 1, 1e-12);
    const PairView rails = *seen(loop.input, {loop.mode()}, "gate rail", "kelvin rail").modes.front().view;
    CHECK_RELATIVE(rails.volts, std::abs(at_rails), 1e-9);
    CHECK_RELATIVE(rails.rejection_db.value(), 20 * std::log10(800 / std::abs(at_rails)), 1e-9);
    // The driver's output is fed by the loop's current, so that it has the opposite sign.
    CHECK_RELATIVE(std::polar(1.0, rails.phase_rad), -at_rails / std::abs(at_rails), 1e-9);
}

TEST_CASE("a capacitance across the chip moves a lone loop to where the greater capacitance rings") {
    const LoneLoop loop;
    for (const double farad : {1e-12, 30e-12, 400e-12}) {
        const double sum = loop.farad + farad, sigma = loop.ohm / (2 * loop.henry);
        const Complex expected(-sigma, std::sqrt(1 / (loop.henry * sum) - sigma * sigma));
        const auto found =
            eigenvalue_with_probe(loop.input, loop.point, between("gate[1]", "source[1]", farad), loop.s);
        // The chip's resistance stands in the loop, so that the capacitances are beside each other.
        REQUIRE(found.has_value());
        CHECK_RELATIVE(*found, expected, 1e-10);
    }
}

TEST_CASE("with a probe a mode is where the board's impedance and the probe's cancel, 1/Z(s) + Y(s) = 0") {
    for (const char* name : {"ropeway-first", "mine-hoist-bus", "snow-gun-cascode"}) {
        CAPTURE(name);
        const Case input = test_files::demonstration(name);
        const PickedMode worst = worst_of(input).front();
        for (const Probe& probe : {between("gate pin[1]", "gate pin[2]", 0.8e-12, 50e3, 6e-9),
                                   between("gate pin[1]", "source pin[1]", 11e-12, 10e6, 20e-9),
                                   between("drain pin[2]", "source rail", 4e-12)}) {
            CAPTURE(probe.from);
            const auto found = eigenvalue_with_probe(input, worst.point, probe, worst.mode.eigenvalue);
            REQUIRE(found.has_value());
            CHECK(*found != worst.mode.eigenvalue);
            CHECK(relative_difference(*found, worst.mode.eigenvalue) < 0.1);
            const Network bare = network_with_ports(input, worst.point, {{probe.from, probe.to}});
            const Complex loop = admittance(probe, *found) * port_impedance(bare, *found)(0, 0);
            CHECK(std::abs(1.0 + loop) < 1e-6);
        }
    }
}

TEST_CASE("of equal modes the probe moves the one that it sees, and leaves the others where they were") {
    Case input = test_files::demonstration("ropeway-first");
    const PickedMode worst = worst_of(input).front();
    REQUIRE(worst.mode.multiplicity == 3);
    const Probe probe = between("gate pin[1]", "gate pin[2]", 0.8e-12, 50e3, 6e-9);
    const auto found = eigenvalue_with_probe(input, worst.point, probe, worst.mode.eigenvalue);
    REQUIRE(found.has_value());
    input.probes = {probe};
    int moved = 0, left = 0;
    for (const Mode& m : ModeSolver(input).solve(worst.point).modes) {
        if (relative_difference(m.eigenvalue, *found) < 1e-8) moved += m.multiplicity;
        if (relative_difference(m.eigenvalue, worst.mode.eigenvalue) < 1e-8) left += m.multiplicity;
    }
    CHECK(moved == 1);
    CHECK(left == 2);
}

TEST_CASE("a board of alike positions is seen alike by its blocks and as a whole") {
    const Case input = test_files::demonstration("ropeway-first");
    for (const PickedMode& by_blocks : worst_of(input)) {
        PickedMode whole = by_blocks;
        REQUIRE(by_blocks.by_blocks);
        whole.by_blocks = false;
        for (const auto& [from, to] : {std::pair{"gate pin[1]", "gate pin[2]"},
                                       {"gate pin[3]", "Kelvin pin[3]"},
                                       {"drain pin[4]", "source pin[2]"},
                                       {"gate pin[2]", "gate rail"},
                                       {"drain rail", "source rail"}}) {
            CAPTURE(from);
            const PickupMode a = seen(input, {by_blocks}, from, to).modes.front(),
                             b = seen(input, {whole}, from, to).modes.front();
            if (a.view->volts == 0) {
                CHECK(b.view->volts < 1e-6);
                continue;
            }
            CHECK_RELATIVE(a.view->volts, b.view->volts, 1e-6);
            CHECK(a.positions.size() == b.positions.size());
            for (size_t k = 0; k < a.positions.size(); ++k)
                CHECK(std::abs(std::abs(a.positions[k].chip) - std::abs(b.positions[k].chip)) < 1e-6);
        }
    }
}

TEST_CASE(
    "on random boards blocks and the whole show the same, and a followed mode is one of the board with the "
    "probe") {
    int views = 0, followed = 0, lost = 0;
    for (int k = 0; k < 40; ++k) {
        CAPTURE(k);
        random_case::Generator generator(700 + static_cast<std::uint64_t>(k));
        const Case input = generator.make({2 + k % 3, k % 4 != 0, k % 5 != 0});
        for (const OperatingPoint& point : operating_path(input).points)
            for (const PickedMode& picked : modes_at(input, point)) {
                if (picked.mode.mixed()) continue;
                CAPTURE(picked.mode.eigenvalue);
                const std::pair<std::string, std::string> pair{"gate pin[1]",
                                                               k % 2 == 0 ? "gate pin[2]" : "source pin[1]"};
                PickedMode whole = picked;
                whole.by_blocks = false;
                const PairView a = *seen(input, {picked}, pair.first, pair.second).modes.front().view,
                               b = *seen(input, {whole}, pair.first, pair.second).modes.front().view;
                if (a.volts > 0 && a.volts < 1e6) {
                    ++views;
                    CHECK_RELATIVE(a.volts, b.volts, 1e-5);
                }
                if (a.volts == 0) continue;
                const Probe hung = between(pair.first, pair.second, 2e-12, 20e3, 8e-9);
                const auto found = eigenvalue_with_probe(input, point, hung, picked.mode.eigenvalue);
                if (!found) {
                    ++lost;
                    continue;
                }
                ++followed;
                Case probed = input;
                probed.probes = {hung};
                double nearest = 1;
                for (const Mode& m : ModeSolver(probed).solve(point).modes)
                    nearest = std::min(nearest, relative_difference(m.eigenvalue, *found));
                CHECK(nearest < 1e-6);
            }
    }
    CHECK(views > 80);
    CHECK(followed > 80);
    CHECK(lost == 0);
}

TEST_CASE("like nodes of two alike positions see no common mode, and do not move it") {
    const Case input = test_files::demonstration("ropeway-first");
    const std::vector<PickedMode> modes = worst_of(input);
    REQUIRE(modes.size() == 2);
    REQUIRE(modes[1].mode.kind == ModeKind::common);
    PickupOptions options;
    options.probe = between("gate pin[1]", "gate pin[3]", 0.8e-12, 50e3, 6e-9);
    const Pickup result = pickup(input, modes, options);
    CHECK(result.modes[1].view->volts == 0);
    CHECK(!result.modes[1].view->rejection_db);
    CHECK(result.modes[1].view->blind_to_common);
    CHECK(result.modes[1].with_probe.value() == modes[1].mode.eigenvalue);
    CHECK(result.modes[0].view->volts > 1);
    // The swing that the pair sees: its two positions against each other, the others still.
    const auto& p = result.modes[0].positions;
    CHECK_RELATIVE(p[0].chip, 1, 1e-12);
    CHECK_RELATIVE(p[2].chip, -1, 1e-12);
    CHECK(std::abs(p[1].chip) < 1e-12);
    CHECK(std::abs(p[3].chip) < 1e-12);
}

TEST_CASE("the ranking holds nodes that can be touched, strongest first, each with what that pair shows") {
    for (const char* name : {"ropeway-first", "mine-hoist-bus"}) {
        const Case input = test_files::demonstration(name);
        const std::vector<PickedMode> modes = worst_of(input);
        const Pickup result = pickup(input, modes);
        REQUIRE(result.modes.size() == modes.size());
        for (size_t k = 0; k < modes.size(); ++k) {
            const auto& ranking = result.modes[k].ranking;
            REQUIRE(ranking.size() == 10);
            for (size_t i = 0; i < ranking.size(); ++i) {
                CAPTURE(ranking[i].from);
                CHECK((i == 0 || ranking[i].volts <= ranking[i - 1].volts));
                for (const std::string& node : {ranking[i].from, ranking[i].to})
                    for (const char* chip : {"gate[", "drain[", "source["}) CHECK(!node.starts_with(chip));
                const PairView alone = *seen(input, {modes[k]}, ranking[i].from, ranking[i].to).modes[0].view;
                CHECK_RELATIVE(alone.volts, ranking[i].volts, 1e-9);
            }
        }
    }
}

TEST_CASE(
    "of alike positions each class of pair is ranked once, and like nodes of two positions come first") {
    const Case input = test_files::demonstration("ropeway-first");
    PickupOptions all;
    all.ranked = 1000;
    const auto ranking = pickup(input, {worst_of(input).front()}, all).modes.front().ranking;
    CHECK(ranking.front().from == "drain pin[1]");
    CHECK(ranking.front().to == "drain pin[2]");
    CHECK(ranking.front().stands_for == PairView::StandsFor::any_two_positions);
    CHECK(ranking.front().blind_to_common);
    CHECK(!ranking.front().bus_voltage_across);
    const auto kind_of = [](const std::string& node) { return node.substr(0, node.find('[')); };
    for (size_t i = 0; i < ranking.size(); ++i)
        for (size_t j = i + 1; j < ranking.size(); ++j)
            if (ranking[i].stands_for == ranking[j].stands_for)
                CHECK(std::minmax(kind_of(ranking[i].from), kind_of(ranking[i].to)) !=
                      std::minmax(kind_of(ranking[j].from), kind_of(ranking[j].to)));
}

TEST_CASE("dice without a package are touched at their pins' names") {
    const Case input = case_text::read(
        case_text::replaced(case_text::base, "package: {gate: 5 nH, drain: 2 nH, source: 3 nH, kelvin: 4 nH}",
                            "package: {}"),
        {"device.gate_resistance=0 ohm"});
    const OperatingPoint point = operating_path(input).points.front();
    const Pickup result = pickup(input, modes_at(input, point));
    REQUIRE(!result.modes.empty());
    REQUIRE(!result.modes.front().ranking.empty());
    for (const PairView& v : result.modes.front().ranking)
        for (const std::string& node : {v.from, v.to}) {
            CHECK(!node.starts_with("gate["));
            CHECK(!node.starts_with("source["));
        }
}

TEST_CASE("a board without supply makes no step, and no bus voltage stands on it") {
    const Case input = test_files::demonstration("ropeway-first");
    const std::vector<PickedMode> modes = modes_at(input, unpowered_point(input));
    REQUIRE(modes.size() == 2);
    const Pickup result = seen(input, modes, "drain pin[1]", "source pin[1]");
    CHECK(result.step_v == 0);
    CHECK(result.modes[0].view->volts > 0);
    CHECK(!result.modes[0].view->rejection_db);
    for (const PairView& v : result.modes[0].ranking) CHECK(!v.bus_voltage_across);
}

TEST_CASE("a node inside the package is said to be out of reach, one of a bare die is not") {
    const Case packed = test_files::demonstration("ropeway-first");
    const std::vector<PickedMode> modes = worst_of(packed);
    CHECK(seen(packed, modes, "gate[1]", "Kelvin pin[1]").modes[0].view->inside_device);
    CHECK(!seen(packed, modes, "gate pin[1]", "Kelvin pin[1]").modes[0].view->inside_device);
    Case bare = packed;
    for (Position& p : bare.positions) p.device.package = {};
    CHECK(!seen(bare, modes_at(bare, modes[0].point), "gate[1]", "source rail").modes[0].view->inside_device);
}

TEST_CASE("what grows beside the worst modes is picked once a family") {
    const Case input = test_files::demonstration("sawmill-row");
    CheckOptions plain;
    plain.size_gate_resistor = plain.gain_margin = false;
    const CheckResult result = check(input, plain);
    const std::vector<PickedMode> modes = modes_to_probe(result);
    CHECK(modes[0].why == "worst differential mode");
    CHECK(modes[1].why == "worst common mode");
    std::vector<std::string> families{
        family_of(result.families, result.worst_differential->point, result.worst_differential->mode)};
    for (size_t k = 2; k < modes.size(); ++k) {
        CHECK(modes[k].why == "growing mode");
        CHECK(grows(modes[k].mode));
        const auto at = std::find_if(result.points.begin(), result.points.end(), [&](const PointResult& r) {
            return r.point.name == modes[k].point.name;
        });
        families.push_back(
            family_of(result.families, static_cast<size_t>(at - result.points.begin()), modes[k].mode));
    }
    std::sort(families.begin(), families.end());
    CHECK(std::adjacent_find(families.begin(), families.end()) == families.end());
    CHECK(families.size() == modes.size() - 1);
}

TEST_CASE("the command says what a probe picks up, as text and as JSON") {
    const std::string line =
        "pickup '" + test_files::cases +
        "ropeway-first.yaml' --between 'gate pin[1]' 'gate pin[2]' --probe 0.8pF:50kohm:6nH";
    const Ran text = run(line);
    CHECK(text.status == 0);
    CHECK(text.err.empty());
    CHECK(contains(text.out,
                   "One of 3 equal modes: the swing that this pair sees. All others have a zero there."));
    CHECK(contains(text.out,
                   "Between `gate pin[1]` and `gate pin[2]`: nothing. This pair does not see the mode."));
    CHECK(contains(text.out, "The probe itself moves it from 134.4 MHz to "));
    CHECK(run(line + " --quiet").out.starts_with("worst differential mode, 134.4 MHz: "));
    const auto json = nlohmann::json::parse(run(line + " --json -").out);
    CHECK(json["verb"] == "pickup");
    CHECK(json["probe"]["between"] == nlohmann::json{"gate pin[1]", "gate pin[2]"});
    CHECK_RELATIVE(json["probe"]["inductance_h"].get<double>(), 6e-9, 1e-12);
    CHECK(json["step_v"] == 800);
    REQUIRE(json["modes"].size() == 2);
    const auto& mode = json["modes"][0];
    CHECK(mode["why"] == "worst differential mode");
    CHECK(mode["positions"].size() == 4);
    CHECK(mode["ranking"].size() == 10);
    CHECK(mode["view"]["volts_per_volt"].get<double>() > 1);
    CHECK(mode["view"]["stands_for"] == "itself");
    CHECK(mode["with_probe"]["natural_frequency_hz"].get<double>() <
          mode["natural_frequency_hz"].get<double>());
    CHECK(json["modes"][1]["view"]["volts_per_volt"] == 0);
    CHECK(json["modes"][1]["view"]["rejection_db"].is_null());
    const auto alone =
        nlohmann::json::parse(run("pickup '" + test_files::cases + "ropeway-first.yaml' --json -").out);
    CHECK(alone["probe"].is_null());
    CHECK(alone["modes"][0]["view"].is_null());
    CHECK(alone["modes"][0]["ranking"].size() == 10);
}

TEST_CASE("two nodes may stand behind one another or be parted by a colon, and the point may be named") {
    const std::string name = "pickup '" + test_files::cases + "ropeway-first.yaml' --quiet ";
    CHECK(run(name + "--between 'gate pin[1]' 'Kelvin pin[1]'").out ==
          run(name + "--between 'gate pin[1]:Kelvin pin[1]'").out);
    CHECK(run("pickup --quiet --between 'gate pin[1]:Kelvin pin[1]' '" + test_files::cases +
              "ropeway-first.yaml'")
              .out == run(name + "--between 'gate pin[1]:Kelvin pin[1]'").out);
    const Ran unpowered = run(name + "--at unpowered");
    CHECK(unpowered.status == 0);
    CHECK(unpowered.out.starts_with("worst differential mode, "));
    CHECK(contains(run("pickup '" + test_files::cases + "ropeway-first.yaml' --at 'turn_off current 5'").out,
                   "at \"turn_off current 5\""));
}

TEST_CASE("what pickup is told wrong it says with the nearest") {
    const auto error = [](const std::string& arguments) {
        const Ran ran = run("pickup '" + test_files::cases + "ropeway-first.yaml' " + arguments);
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        return ran.err;
    };
    CHECK(error("--between 'gate pn[1]' 'gate pin[2]'") ==
          "ringquell: --between: `gate pn[1]` is no node of this network; did you mean `gate pin[1]`?\n");
    CHECK(error("--between 'gate pin[1]' 'gate pin[1]'") ==
          "ringquell: --between: `gate pin[1]` and `gate pin[1]` are one node of this network\n");
    CHECK(error("--between 'gate pin[1]'") ==
          "ringquell: --between: found `gate pin[1]`; expected two nodes, such as \"gate pin[1]\" \"gate "
          "pin[2]\"\n");
    CHECK(error("--at 'turn_off curent 5'") ==
          "ringquell: --at: `turn_off curent 5` is no point of this case's path; did you mean `turn_off "
          "current "
          "5`?\n");
    CHECK(error("--probe 0.8pF") == "ringquell: --probe: goes with --between, which says where it hangs\n");
    for (const char* wrong : {"0.8", "0.8pF:2pF", "5MHz", "0ohm", "-1pF", "0.8pF:"})
        CHECK(error(std::string("--between 'gate pin[1]:gate pin[2]' --probe ") + wrong) ==
              "ringquell: --probe: found `" + std::string(wrong) +
                  "`; expected its capacitance, resistance and inductance, one of each at most, such as "
                  "`0.8pF:50kohm:6nH`\n");
}
