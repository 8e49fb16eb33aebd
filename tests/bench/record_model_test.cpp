// What a record should show, and how it follows the unknowns: against modes and impedances of boards moved and solved
// anew.
#include "bench/record_model.h"

#include <doctest/doctest.h>

#include <Eigen/LU>

#include "bench/posterior.h"
#include "case/tolerances.h"
#include "ringquell/ports.h"
#include "support/bench_boards.h"
#include "support/files.h"
#include "support/relative.h"

using namespace bench_boards;
using test_files::demonstration;

namespace {

/// With the tolerances that are typical; what stands at a place drawn from them.
struct Board {
    UnknownCase unknowns;
    Eigen::VectorXd x;
    Board(const std::string& name, double deviation) : unknowns(with_typical(demonstration(name))) {
        Dice dice(11);
        x.resize(unknowns.size());
        for (double& v : x) v = deviation * dice.normal();
    }
    static Case with_typical(Case input) {
        input.spread = typical_spread(input);
        return input;
    }
};

/// The slopes against differences of the residuals themselves. Both are of about one part in 1e-6 here; what is compared is
/// a record's slope vector as a whole, so that unknowns without effect do not count as wrong.
void check_slopes(Board& board, const RecordTarget& target) {
    RecordModel model(board.unknowns, target);
    const RecordState state = model.at(board.x, true);
    constexpr double step = 1e-3;
    Eigen::MatrixXd by_differences(state.slopes.rows(), state.slopes.cols());
    for (Eigen::Index k = 0; k < board.x.size(); ++k) {
        Eigen::VectorXd up = board.x, down = board.x;
        up[k] += step;
        down[k] -= step;
        by_differences.col(k) =
            (model.at(up, false).residuals - model.at(down, false).residuals) / (2 * step);
    }
    for (Eigen::Index r = 0; r < by_differences.rows(); ++r) {
        INFO("row ", r);
        CHECK((state.slopes.row(r) - by_differences.row(r)).norm() <= 2e-4 * by_differences.row(r).norm());
    }
}

}  // namespace

TEST_CASE("a point by its name is that of the path") {
    for (const char* name : {"ropeway-first", "ice-rink-cascode", "ski-lift-curves", "snow-gun-cascode"}) {
        const Case input = demonstration(name);
        for (const OperatingPoint& point : operating_path(input).points) {
            const std::optional<OperatingPoint> alone = operating_point(input, point.name);
            REQUIRE(alone);
            CHECK(alone->name == point.name);
            CHECK(same_network(*alone, point));
            CHECK(alone->vds_v == point.vds_v);
        }
        CHECK(!operating_point(input, "turn_on current 999"));
    }
}

TEST_CASE("slopes of a ring are what moving each unknown does") {
    for (const char* name : {"ropeway-first", "ski-lift-curves"}) {
        Board board(name, 0.5);
        const std::string seventh = operating_path(board.unknowns.input()).points[7].name;
        const BenchRecord record = between(at(seventh), "gate pin[1]", "gate pin[2]");
        const std::optional<Mode> seen = most_visible(board.unknowns, record, board.x);
        REQUIRE(seen);
        Dice dice(1);
        check_slopes(board, ring_record(record, *seen, {0, 0}, {0.01, 0.005}, dice));
    }
}

TEST_CASE("slopes of a ring with a probe that loads the board, of a cascode, too") {
    Board board("ice-rink-cascode", 0.5);
    BenchRecord record = between(at("voltage rise"), "gate pin[1]", "gate pin[2]");
    const Probe probe{"differential", record.from, record.to, 0.8e-12, 50e3, 6e-9, {}};
    const std::optional<Mode> seen = most_visible(board.unknowns, record, board.x, probe);
    REQUIRE(seen);
    Dice dice(1);
    RecordTarget target = ring_record(record, *seen, {0, 0}, {0.01, 0.005}, dice);
    target.probe = probe;
    check_slopes(board, target);
}

TEST_CASE("slopes of an impedance are what moving each unknown does") {
    Board board("ropeway-first", 0.5);
    BenchRecord record = between({}, "gate pin[3]", "Kelvin pin[3]");
    record.unpowered = true;
    Dice dice(1);
    check_slopes(board, port_record(board.unknowns, record, board.x, 0.03, dice));
}

TEST_CASE("the impedance of a port is that which `export` writes") {
    Board board("ropeway-first", 0);
    BenchRecord record = between({}, "gate pin[1]", "Kelvin pin[1]");
    record.unpowered = true;
    BoardAt place(board.unknowns, record);
    const OperatingPoint point = place.point(board.x);
    NetworkOptions options;
    options.ports = {{record.from, record.to}};
    const Case input = demonstration("ropeway-first");
    const Scattering s = scattering(input, unpowered_point(input), options.ports, {2e6, 30e6, 250e6});
    const PortSlopes z =
        port_slopes(build_network(board.unknowns.input(), point, options), s.frequency_hz, false);
    for (size_t k = 0; k < s.frequency_hz.size(); ++k) {
        const std::complex<double> reflected = s.s[k](0, 0);
        CHECK_RELATIVE(z.impedance_ohm[static_cast<Eigen::Index>(k)],
                       s.reference_ohm * (1.0 + reflected) / (1.0 - reflected), 1e-10);
    }
}

TEST_CASE("of equal modes of an alike board the one is taken that the probe sees") {
    Board board("ropeway-first", 0);
    const BenchRecord record = between(at("turn_on current 7"), "gate pin[1]", "gate pin[2]");
    BoardAt place(board.unknowns, record);
    NetworkOptions options;
    const OperatingPoint point = place.point(board.x);
    options.ports = {{record.from, record.to}};
    const Network network = build_network(board.unknowns.input(), point, options);
    ModeFinder finder;
    const auto modes = finder.find(network, 4, 50e6, 200e6, 100e6);
    const auto seen =
        std::find_if(modes.begin(), modes.end(), [](const SeenMode& m) { return m.multiplicity == 3; });
    REQUIRE(seen != modes.end());
    CHECK(seen->common_share < 1e-9);
    // Positions 3 and 4 have no part in it: their gate-source capacitances hold nothing.
    double of_first = 0, of_others = 0;
    for (const Element& e : network.elements) {
        if (e.name != "device.capacitance.cgs") continue;
        std::complex<double> v = 0;
        for (const auto& [i, sign] : e.right) v += sign * seen->pair.x[i];
        (e.position <= 2 ? of_first : of_others) += std::norm(v);
    }
    CHECK(of_first > 0);
    CHECK(of_others < 1e-12 * of_first);
    // A common mode shows nothing between two gates.
    for (const SeenMode& m : modes)
        if (m.common_share > 0.99) CHECK(m.view < 1e-6 * seen->view);
}

TEST_CASE("what one more measurement leaves open is what it leaves when it is made") {
    Dice dice(5);
    Eigen::MatrixXd first(3, 6), second(4, 6);
    for (double& v : first.reshaped()) v = dice.normal();
    for (double& v : second.reshaped()) v = dice.normal();
    Eigen::VectorXd slopes(6);
    for (double& v : slopes) v = dice.normal();
    const Eigen::MatrixXd one = Eigen::MatrixXd::Identity(6, 6);
    const Eigen::MatrixXd covariance = (one + first.transpose() * first).inverse();
    const Eigen::MatrixXd both = (one + first.transpose() * first + second.transpose() * second).inverse();
    CHECK_RELATIVE(known_with(slopes, covariance, second), known(slopes, both).after, 1e-12);
    CHECK_RELATIVE(known(slopes, covariance).before, slopes.norm(), 1e-12);
}
