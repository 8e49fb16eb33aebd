// The fast path of `spread` is the simple one: damping, kind, point and verdict of every sample of every
// demonstration case.
#include <doctest/doctest.h>

#include <cmath>
#include <string>

#include "ringquell/read_case.h"
#include "spread/sample_evaluator.h"
#include "test_paths.h"

using namespace ringquell;
using namespace ringquell::internal;

namespace {

#ifdef RINGQUELL_SANITIZED
constexpr int samples = 48;
#else
constexpr int samples = 5008;  // whole blocks
#endif

/// The walk is short, so that five thousand samples on the simple path take seconds, not hours; points of
/// every stage are in it.
void compare(const std::string& name) {
    std::vector<std::string> settings;
    if (name != "ropeway-spread") settings.push_back("spread=typical");  // it has its own
    if (!name.starts_with("ice")) settings.push_back("operation.path.steps=1");
    const Case input = read_case(std::string(RINGQUELL_CASES) + "/" + name + ".yaml", settings);
    const SampleSpace space(input);
    REQUIRE(!space.draws().empty());
    const SampleEvaluator fast_evaluator(space), simple_evaluator(space, std::nullopt, false);
    SampleWorker fast(fast_evaluator), simple(simple_evaluator);
    std::vector<double> uniforms;
    std::vector<SampleOutcome> a, b;
    int one_by_one = 0, differ = 0;
    double most = 0;
    constexpr int block = 16;
    for (int first = 0; first < samples; first += block) {
        const auto source = [&](int index, std::uint32_t attempt, double* u) {
            space.uniforms(7, static_cast<std::uint64_t>(first + index), attempt, u);
            return true;
        };
        fast.evaluate(block, source, uniforms, a);
        simple.evaluate(block, source, uniforms, b);
        for (size_t k = 0; k < block; ++k) {
            one_by_one += a[k].on_reference_path;
            const bool none = std::isnan(a[k].damping_ratio) && std::isnan(b[k].damping_ratio);
            if (!none) most = std::max(most, std::abs(a[k].damping_ratio - b[k].damping_ratio));
            differ += a[k].passes != b[k].passes || a[k].status != b[k].status || a[k].kind != b[k].kind ||
                      a[k].point != b[k].point || a[k].grows != b[k].grows;
        }
    }
    CHECK(differ == 0);
    CHECK(most < 1e-8);
    CHECK(one_by_one <= samples / 100);
}

}  // namespace

TEST_CASE("ropeway-first") {
    compare("ropeway-first");
}
TEST_CASE("ropeway-cured") {
    compare("ropeway-cured");
}
TEST_CASE("ice-rink-cascode") {
    compare("ice-rink-cascode");
}
TEST_CASE("mine-hoist-bus") {
    compare("mine-hoist-bus");
}
TEST_CASE("ropeway-spread") {
    compare("ropeway-spread");
}
TEST_CASE("ski-lift-curves") {
    compare("ski-lift-curves");
}
