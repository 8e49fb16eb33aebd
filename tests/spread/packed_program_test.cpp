// The straight-line program of a network in eight lanes, against the elimination it was recorded from and a
// law of scale.
#include "spread/packed_program.h"

#include <doctest/doctest.h>

#include <cstdint>
#include <vector>

#include "ringquell/operating_path.h"
#include "support/random_case.h"

using namespace ringquell;
using namespace ringquell::internal;

TEST_CASE("each lane holds the matrix of its own values: time scaled by t divides it by t") {
    constexpr auto lanes = static_cast<size_t>(pack_lanes);
    for (std::uint64_t seed = 1; seed <= 20; ++seed) {
        CAPTURE(seed);
        random_case::Generator generator(seed);
        const Case input = generator.make({2, seed % 2 == 0, true});
        const Network network = build_network(input, operating_path(input).points.front());
        const std::vector<double> values = Reducer::element_values(network);
        const PackedProgram program = packed_program(network, input.n());
        REQUIRE(static_cast<size_t>(program.elements) == values.size());
        // Lane k: every inductance and capacitance 1 + k/8 times.
        const auto time = [](size_t lane) { return 1 + static_cast<double>(lane) / 8; };
        AlignedBuffer buffer;
        double* const numbers = buffer.resize(static_cast<size_t>(program.places) * lanes);
        for (size_t i = 0; i < values.size(); ++i)
            for (size_t k = 0; k < lanes; ++k)
                numbers[i * lanes + k] = values[i] * (network.elements[i].in_e() ? time(k) : 1);
        run_packed(program, numbers);
        Reducer reducer(network);
        reducer.evaluate(network);
        const double size = reducer.a().cwiseAbs().maxCoeff();
        REQUIRE(program.states == static_cast<int>(reducer.a().rows()));
        for (size_t k = 0; k < lanes; ++k) {
            Eigen::MatrixXd a = Eigen::MatrixXd::Zero(program.states, program.states);
            for (const PackedProgram::Entry& e : program.matrix)
                a(e.row, e.column) = numbers[static_cast<size_t>(e.place) * lanes + k];
            CHECK((a * time(k) - reducer.a()).cwiseAbs().maxCoeff() < 1e-9 * size);
        }
    }
}
