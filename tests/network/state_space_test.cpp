// dx/dt = A·x against the pencil that it was made of, by determinants and singular values.
#include "ringquell/state_space.h"

#include <doctest/doctest.h>

#include <Eigen/Core>
#include <cmath>
#include <complex>
#include <string>

#include "ringquell/operating_path.h"
#include "support/dense.h"
#include "support/files.h"

using namespace ringquell;

namespace {

/// λE − A in ns, nH, nF, V, A: λ in 1/ns.
Eigen::MatrixXcd pencil(const Network& network, std::complex<double> lambda) {
    const Eigen::MatrixXd e = Eigen::MatrixXd(network.e()) * 1e9, a = Eigen::MatrixXd(network.a());
    return lambda * e.cast<std::complex<double>>() - a.cast<std::complex<double>>();
}

/// By how much ln|det(λE − A)| rises when λ is ten times as large, in tens.
double degree(const Network& network, double lambda) {
    const auto logarithm = [&](double x) { return dense::log10_determinant(pencil(network, x)); };
    return logarithm(10 * lambda) - logarithm(lambda);
}

}  // namespace

TEST_CASE("there are as many states as the determinant of the pencil has degree") {
    for (const std::string name : {"star-4-mosfet", "pair-with-bead", "pair-cascode", "ladder-3-coupled"}) {
        const Case input = read_case(test_files::reference + name + ".yaml");
        for (const OperatingPoint& point : operating_path(input).points) {
            CAPTURE(name);
            CAPTURE(point.name);
            const Network network = build_network(input, point);
            const StateSpace s = state_space(network);
            CHECK(s.a.rows() == s.a.cols());
            CHECK(static_cast<size_t>(s.a.rows()) == s.states.size());
            CHECK(std::abs(degree(network, 1e6) - static_cast<double>(s.a.rows())) < 1e-3);
        }
    }
}

TEST_CASE("at each fast eigenvalue of A the pencil is singular, and beside it it is not") {
    for (const std::string name : {"star-4-mosfet", "pair-with-bead", "pair-cascode", "ladder-3-coupled"}) {
        const Case input = read_case(test_files::reference + name + ".yaml");
        const Network network = build_network(input, operating_path(input).points.front());
        const Eigen::VectorXcd eigenvalues = dense::eigenvalues(state_space(network).a) * 1e-9;
        int judged = 0;
        for (const std::complex<double> lambda : eigenvalues) {
            if (std::abs(lambda) < 1e-2 || std::abs(lambda) > 1e2) continue;
            CAPTURE(name);
            CAPTURE(lambda);
            const auto least = [&](std::complex<double> at) {
                return dense::singular_values(pencil(network, at)).tail(1)(0);
            };
            const double beside = least(lambda * std::complex<double>(1.001, 0.001));
            CHECK(least(lambda) < 1e-6 * beside);
            ++judged;
        }
        CHECK(judged >= 6);
    }
}
