// Closed forms of the switching estimates.
#include "ringquell/switching.h"

#include <cmath>

#include "estimates/induced_rise.h"
#include "support/case_text.h"
#include "support/relative.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

/// The base case with a formula channel and a drive: all that the estimates need.
std::string formula() {
    return case_text::replaced(
        case_text::replaced(
            case_text::base, "{transconductance: 38 S, output_conductance: 60 mS}",
            "{threshold: 4 V, gain: 5 A, exponent: 2, knee_voltage: 8 V, output_slope: 0 /V}"),
        "load_current: 200 A", "load_current: 200 A\n  drive: {high: 18 V, low: -4 V}");
}

SwitchingEstimate estimate(const std::string& text, Edge edge) {
    const Case input = case_text::read(text);
    return estimate_switching(input, operating_path(input).points, edge);
}

}  // namespace

TEST_CASE("transfer times of a MOSFET are the closed forms") {
    const SwitchingEstimate on = estimate(formula(), Edge::turn_on),
                            off = estimate(formula(), Edge::turn_off);
    const double r_on = 4.7 + 1.1 + 3 * 0.9, r_off = 4.7 + 1.1 + 3 * 0.5, ciss = 2.3e-9 + 14e-12;
    const double plateau = 4 + std::sqrt(200.0 / 3 / 5 / std::tanh(100.0));
    REQUIRE(on.plateau_v);
    CHECK_RELATIVE(*on.plateau_v, plateau, 1e-9);
    CHECK_RELATIVE(*on.current_transfer_s, r_on * ciss * std::log(14 / (18 - plateau)), 1e-8);
    CHECK_RELATIVE(*off.current_transfer_s, r_off * ciss * std::log((plateau + 4) / 8), 1e-8);
    CHECK_RELATIVE(*on.voltage_transfer_s, r_on * 14e-12 * 800 / (18 - plateau), 1e-8);
    CHECK_RELATIVE(*off.voltage_transfer_s, r_off * 14e-12 * 800 / (plateau + 4), 1e-8);
    CHECK_RELATIVE(*on.switching_energy_j, 0.5 * 800 * 200 * *on.transfer_s(), 1e-12);
    CHECK_RELATIVE(*on.resistor_power_w, 0.5 * (ciss * 22 + 14e-12 * 800) * 22 * 20e3 * 4.7 / r_on, 1e-8);
}

TEST_CASE("fixed values leave empty what they cannot tell, and say so") {
    const SwitchingEstimate e = estimate(case_text::base, Edge::turn_on);
    CHECK(!e.plateau_v);
    CHECK(!e.switching_energy_j);
    CHECK(!e.notes.empty());
}

TEST_CASE(
    "the induced voltage is the closed form, and sections so large that they are wires change nothing") {
    const double rise = induced_rise_v(2e-9, 20e-12, 40e9, 20e-9, 5);
    CHECK_RELATIVE(rise, 5 * 0.8 * (1 - std::exp(-20e-9 / (5 * 2.02e-9))), 1e-12);
    CHECK_RELATIVE(induced_rise_v(2e-9, 20e-12, 40e9, 20e-9, 5, {{1e-9, 1e-9}}), rise, 1e-6);
    CHECK(induced_rise_v(2e-9, 20e-12, 40e9, 20e-9, 5, {{30, 80e-9}}) > rise);
}
