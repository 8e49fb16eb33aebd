// Boards whose numbers are drawn from their tolerances, measured with noise: is the truth where the fit says it is, and
// how much better is the damping known? No source but the statistics themselves: a 95 % interval covers 95 times of 100.
#include <doctest/doctest.h>

#include <algorithm>

#include "bench/map_fit.h"
#include "case/sample_space.h"
#include "review/next_measurement.h"
#include "support/bench_boards.h"
#include "support/files.h"

using namespace bench_boards;

namespace {

/// The ropeway's first board with two positions, of which eighteen numbers are open.
Case open_board() {
    Case out = test_files::demonstration("ropeway-first");
    out.positions.resize(2, out.positions.front());
    const auto open = [&](const char* key, double amount, bool relative, Vary vary) {
        Tolerance t;
        t.key = key;
        t.amount = amount;  // three standard deviations
        t.relative = relative;
        t.vary = vary;
        t.distribution = Distribution::normal;
        out.spread.push_back(std::move(t));
    };
    open("device.channel.gain", 0.30, true, Vary::batch);
    open("device.channel.gain", 0.10, true, Vary::position);
    open("device.channel.threshold", 0.6, false, Vary::batch);
    open("device.channel.threshold", 0.3, false, Vary::position);
    open("device.capacitance.cgs", 0.15, true, Vary::batch);
    open("device.capacitance.cgd", 0.40, true, Vary::batch);
    open("device.capacitance.cds", 0.25, true, Vary::batch);
    open("device.gate_resistance", 0.40, true, Vary::batch);
    for (const char* path : {"gate_path", "kelvin_path", "source_path", "drain_path"})
        open((std::string(path) + ".inductance").c_str(), 0.30, true, Vary::position);
    return out;
}

/// What the case does not know of the board.
enum class Lacks { nothing, cds_up_while_it_rings, a_leg, probe_lead };

Case real_board(const Case& input, Lacks lacks) {
    Case out = input;
    if (lacks != Lacks::a_leg) return out;
    Leg leg;
    leg.inductance_h = 8e-9;
    leg.resistance_ohm = 10e-3;
    leg.complementary.capacitance_f = 100e-12;
    leg.complementary.on_resistance_ohm = 20e-3;
    for (Position& p : out.positions) p.leg = leg;
    return out;
}

const char* const rings_at[] = {"turn_on current 12", "turn_off current 20", "turn_off voltage 6"};
const char* const worst_at = "turn_off current 11";

struct Outcome {
    int covered = 0, unknowns = 0;
    bool damping_covered = false;
    double damping_before = 0, damping_after = 0;  // widths of the 95 % ranges
};

Outcome measure_and_fit(const Case& input, Lacks lacks, Dice& dice) {
    UnknownCase board(input), real(real_board(input, lacks));
    Eigen::VectorXd truth(board.size());
    for (double& x : truth) x = std::clamp(dice.normal(), -3.0, 3.0);
    const double cds = lacks == Lacks::cds_up_while_it_rings ? 1.2 : 1;
    const double model =
        lacks == Lacks::nothing ? 0 : 1;  // errors by default, where the case is not the board
    RecordModels records;
    for (const char* point : rings_at) {
        const BenchRecord record = between(at(point), "gate pin[1]", "gate pin[2]");
        std::optional<Probe> known, hung;
        if (lacks == Lacks::probe_lead) {
            known = Probe{"differential", record.from, record.to, 0.8e-12, 50e3, 6e-9, {}};
            hung = known;
            hung->inductance_h += 3e-9;
        }
        const std::optional<Mode> seen = most_visible(real, record, truth, hung, cds);
        REQUIRE(seen);
        const double zeta = std::abs(seen->damping_ratio());
        const RingErrors read{0.003, std::hypot(0.03 * zeta, 0.001)};
        const ModelError defaults;
        const RingErrors stated{
            std::hypot(read.log_frequency, model * defaults.frequency),
            std::hypot(read.damping, model * std::max(defaults.damping * zeta, defaults.damping_at_least))};
        RecordTarget target = ring_record(record, *seen, read, stated, dice);
        target.probe = known;
        records.emplace_back(board, std::move(target));
    }
    BenchRecord without_voltage;
    without_voltage.unpowered = true;
    records.emplace_back(board, port_record(real, between(without_voltage, "gate pin[1]", "Kelvin pin[1]"),
                                            truth, BenchRecord{}.error, dice));
    const MapFit fit = fit_map(records, board.size(), {}).best;
    const Eigen::MatrixXd covariance = fit.covariance();
    Outcome out;
    constexpr double quantile_95 = 1.959964;
    for (Eigen::Index k = 0; k < board.size(); ++k)
        out.covered += std::abs(fit.x[k] - truth[k]) <= quantile_95 * std::sqrt(covariance(k, k)) ? 1 : 0;
    out.unknowns = static_cast<int>(board.size());
    const auto after = known_after(board, worst_at, fit.x, covariance);
    const auto before = known_before(board, worst_at);
    const Eigen::MatrixXd nothing_open = Eigen::MatrixXd::Zero(board.size(), board.size());
    const auto true_damping = sampled_damping(real, worst_at, truth, nothing_open, 1);
    REQUIRE(true_damping.size() == 1);
    out.damping_covered = true_damping[0] >= after.low && true_damping[0] <= after.high;
    out.damping_before = before.high - before.low;
    out.damping_after = after.high - after.low;
    return out;
}

}  // namespace

#ifdef RINGQUELL_SANITIZED
constexpr int boards = 3, other_boards = 3;
#else
constexpr int boards = 200, other_boards = 102;
#endif

TEST_CASE("95 % intervals cover the truth, and the damping is known three times better") {
    const Case input = open_board();
    Dice dice(1);
    int covered = 0, unknowns = 0, damping_covered = 0;
    for (int b = 0; b < boards; ++b) {
        const Outcome board = measure_and_fit(input, Lacks::nothing, dice);
        covered += board.covered;
        unknowns += board.unknowns;
        damping_covered += board.damping_covered ? 1 : 0;
        CHECK(board.damping_before >= 3 * board.damping_after);
    }
    const double share = static_cast<double>(covered) / unknowns;
    MESSAGE("covered ", share, ", damping ", static_cast<double>(damping_covered) / boards);
    if (boards < 100) return;
    CHECK(share >= 0.92);
    CHECK(share <= 0.98);
    CHECK(damping_covered >= 0.9 * boards);
}

TEST_CASE(
    "intervals with the default model_error cover nine tenths of boards that the case does not describe") {
    const Case input = open_board();
    Dice dice(2);
    int covered = 0, unknowns = 0;
    for (int b = 0; b < other_boards; ++b) {
        const Lacks lacks[] = {Lacks::cds_up_while_it_rings, Lacks::a_leg, Lacks::probe_lead};
        const Outcome board = measure_and_fit(input, lacks[b % 3], dice);
        covered += board.covered;
        unknowns += board.unknowns;
    }
    const double share = static_cast<double>(covered) / unknowns;
    MESSAGE("covered ", share);
    if (other_boards < 100) return;
    CHECK(share >= 0.90);
}
