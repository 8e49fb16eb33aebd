// JFET and HEMT: the network of a MOSFET under names of their own, and what is usual for each.
#include <doctest/doctest.h>

#include <algorithm>

#include "ringquell/check.h"
#include "ringquell/report.h"
#include "ringquell/write_case.h"
#include "support/curve_cases.h"
#include "support/same_case.h"
#include "support/spectrum.h"

using namespace ringquell;
using namespace case_text;
using namespace curve_cases;

namespace {

const std::string jfet_channel =
    "{threshold: -7 V, gain: 3.6 A, exponent: 1.8, knee_voltage: 5 V, output_slope: 0.0004 /V}";

std::string of_kind(const std::string& kind, const std::string& text) {
    return replaced(text, "kind: mosfet", "kind: " + kind);
}

std::string as_jfet() {
    return replaced(mosfets(jfet_channel), "drive: {high: 18 V, low: -4 V}",
                    "drive: {high: 0 V, low: -15 V}");
}

std::vector<std::string> warnings_of(const Case& input, const std::string& key) {
    std::vector<std::string> out;
    for (const Warning& w : input.warnings)
        if (w.key == key) out.push_back(w.text);
    for (const Warning& w : operating_path(input).warnings)
        if (w.key == key) out.push_back(w.text);
    return out;
}

}  // namespace

TEST_CASE("a JFET and a HEMT have the network of a MOSFET, to the last bit, fixed and by formula") {
    for (const std::string& text : {base, mosfets(formula), as_jfet()}) {
        const Case mosfet = read(text);
        for (const char* kind : {"jfet", "hemt"}) {
            CAPTURE(kind);
            const Case other = read(of_kind(kind, text));
            CHECK(read(write_case(other)).positions.front().device.kind ==
                  other.positions.front().device.kind);
            const OperatingPath path = operating_path(other), wanted = operating_path(mosfet);
            REQUIRE(path.points.size() == wanted.points.size());
            for (size_t i = 0; i < path.points.size(); ++i) {
                const auto a = spectrum::of(ModeSolver(other).solve(path.points[i]).modes),
                           b = spectrum::of(ModeSolver(mosfet).solve(wanted.points[i]).modes);
                CHECK_SPECTRA(a, b, 0.0);
            }
        }
    }
}

TEST_CASE(
    "a JFET conducts at 0 V, and its table is taken at its threshold with a warning unless it says where") {
    const std::string table =
        "{table: [{vds: 0 V, ciss: 2 nF, coss: 1 nF, crss: 0.9 nF}, {vds: 100 V, ciss: 1.4 nF, coss: 200 pF, "
        "crss: 180 pF}, {vds: 800 V, ciss: 1.2 nF, coss: 90 pF, crss: 80 pF}]}";
    const std::string text =
        of_kind("jfet", replaced(as_jfet(), "{cgs: 2.3 nF, cgd: 14 pF, cds: 190 pF}", table));
    const Case input = read(text);
    CHECK(warnings_of(input, "device.capacitance.gate_voltage") ==
          std::vector<std::string>{"not given: the curves are taken to have been measured at the JFET's "
                                   "threshold, -7 V, since it conducts at 0 V"});
    const Case told = read(text, {"device.capacitance.gate_voltage=-7 V"});
    CHECK(warnings_of(told, "device.capacitance.gate_voltage").empty());
    const OperatingPath path = operating_path(input), same = operating_path(told),
                        mosfet = operating_path(read(replaced(text, "kind: jfet", "kind: mosfet")));
    bool differs = false;
    for (size_t i = 0; i < path.points.size(); ++i) {
        CHECK(path.points[i].devices == same.points[i].devices);
        differs = differs || path.points[i].device(0).mosfet.cgd_f != mosfet.points[i].device(0).mosfet.cgd_f;
        CHECK(path.points[i].device(0).gate_voltage_v <= 1e-9);
    }
    CHECK(differs);
}

TEST_CASE("what is odd for a MOSFET may be usual for a JFET or a HEMT, and the reverse") {
    const auto slips = [](const std::string& kind, const std::string& threshold) {
        const Case input = read(of_kind(kind, as_jfet()), {"device.channel.threshold=" + threshold});
        return std::any_of(input.warnings.begin(), input.warnings.end(),
                           [](const Warning& w) { return w.key == "device.channel.threshold"; });
    };
    CHECK(slips("mosfet", "-7 V"));
    CHECK(!slips("jfet", "-7 V"));
    CHECK(slips("jfet", "-7 mV"));
    CHECK(!slips("hemt", "-5 V"));
    CHECK(slips("hemt", "-70 V"));
    CHECK(warnings_of(read(of_kind("jfet", as_jfet())), "operation.drive.high").empty());
    CHECK(
        warnings_of(read(of_kind("jfet", as_jfet()), {"operation.drive.high=15 V"}),
                    "operation.drive.high") ==
        std::vector<std::string>{"15 V drives the JFET's gate junction into conduction (from some 2.5 V on): "
                                 "its gate current is not modelled"});
    CHECK(warnings_of(read(mosfets(formula), {"operation.drive.high=15 V"}), "operation.drive.high").empty());
}

TEST_CASE("points say the kind of their devices, in text and JSON") {
    for (const auto& [kind, word] :
         {std::pair{"mosfet", "MOSFET: gm"}, std::pair{"jfet", "JFET: gm"}, std::pair{"hemt", "HEMT: gm"}}) {
        const CheckResult result = check(read(of_kind(kind, base)));
        CHECK(contains(points_text(result), word));
        CHECK(contains(check_json(result), std::string("\"kind\": \"") + kind + "\""));
    }
}

TEST_CASE("an IGBT is refused with the reason, other words with the kinds that are known") {
    const std::string why =
        ", expected `mosfet`, `cascode`, `jfet` or `hemt`: an IGBT's collector current is carried by charge "
        "stored in its base (conductivity modulation, and a tail current at turn-off), which a channel's gm "
        "and "
        "gds with capacitances between three terminals do not hold";
    CHECK(error_of(of_kind("igbt", base)) == "a.yaml:4:9: device.kind: found `igbt`" + why);
    CHECK(error_of(of_kind("IGBT", base)) == "a.yaml:4:9: device.kind: found `IGBT`" + why);
    CHECK(error_of(of_kind("fet", base)) ==
          "a.yaml:4:9: device.kind: found `fet`, expected `mosfet` or `cascode` or `jfet` or `hemt`");
    for (const char* kind : {"jfet", "hemt"})
        CHECK(error_of(replaced(of_kind(kind, base), "  gate_resistance: 1.1 ohm", "  bonds: {}")) ==
              std::string("a.yaml:5:3: device.bonds: belongs to `kind: cascode`; a device of `kind: ") +
                  kind + "` has `channel` and `capacitance` itself");
}

TEST_CASE("devices of different kinds do not share a current") {
    const std::string text = mosfets(formula);
    CHECK(
        contains(path_error(text, {"device[2].kind=hemt"}),
                 "device.kind: found a MOSFET beside a HEMT, expected devices of one kind where they share a "
                 "current"));
}
