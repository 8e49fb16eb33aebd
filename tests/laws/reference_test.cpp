// The four reference cases, whose eigenvalues were computed independently of this project
// (tests/data/reference/*.expected.json).
#include <doctest/doctest.h>

#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <string>

#include "ringquell/modes.h"
#include "ringquell/operating_path.h"
#include "ringquell/read_case.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;

namespace {

const std::string reference = std::string(RINGQUELL_TEST_DATA) + "/reference/";

std::vector<std::complex<double>> in_band_eigenvalues(const Modes& modes, const Requirement& require) {
    std::vector<std::complex<double>> out;
    for (const Mode& mode : modes.modes)
        if (mode.oscillates() && in_band(mode, require))
            for (int k = 0; k < mode.multiplicity; ++k) out.push_back(mode.eigenvalue);
    return out;
}

void check_against_expected(const std::string& name, Method method) {
    CAPTURE(name);
    const Case input = read_case(reference + name + ".yaml");
    std::ifstream file(reference + name + ".expected.json");
    const auto expected = nlohmann::json::parse(file);
    const OperatingPath path = operating_path(input);
    ModeSolver solver(input, method);
    REQUIRE(path.points.size() == expected.at("points").size());
    for (size_t i = 0; i < path.points.size(); ++i) {
        CAPTURE(path.points[i].name);
        CHECK(path.points[i].name == expected["points"][i]["name"].get<std::string>());
        auto found = in_band_eigenvalues(solver.solve(path.points[i]), input.require);
        const auto& wanted = expected["points"][i]["eigenvalues_rad_per_s"];
        CHECK(found.size() == wanted.size());
        for (const auto& w : wanted) {
            const std::complex<double> value(w[0].get<double>(), w[1].get<double>());
            REQUIRE(!found.empty());
            const auto nearest = std::min_element(found.begin(), found.end(), [&](auto a, auto b) {
                return std::abs(a - value) < std::abs(b - value);
            });
            CHECK_RELATIVE(*nearest, value, 1e-6);
            found.erase(nearest);
        }
    }
}

}  // namespace

TEST_CASE("the reference cases have the expected eigenvalues in the band, each as often as expected") {
    for (const char* name : {"star-4-mosfet", "pair-with-bead", "pair-cascode", "ladder-3-coupled"})
        check_against_expected(name, Method::automatic);
}

TEST_CASE("the whole network gives the same eigenvalues as the blocks") {
    for (const char* name : {"star-4-mosfet", "pair-with-bead", "pair-cascode"})
        check_against_expected(name, Method::whole);
}
