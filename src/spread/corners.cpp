#include <algorithm>
#include <cmath>

#include "ringquell/spread.h"
#include "spread/sample_evaluator.h"

namespace ringquell {

using namespace internal;

namespace {

/// The draws of the tolerances that matter most, in their order: by what one draw explains, not all
/// positions' together.
std::vector<size_t> draws_that_matter(const SampleSpace& space, const SpreadResult& result) {
    constexpr size_t most = 5;  // 3^5 = 243 cases
    const auto is_of = [&](const Draw& draw, const SpreadShare& share) {
        const Tolerance& t = space.tolerance(draw);
        return t.key == share.key && t.vary == share.vary;
    };
    std::vector<SpreadShare> by_draw = result.matters;
    for (SpreadShare& s : by_draw)
        s.share /= std::max(
            1.0, static_cast<double>(std::count_if(space.draws().begin(), space.draws().end(),
                                                   [&](const Draw& draw) { return is_of(draw, s); })));
    std::stable_sort(by_draw.begin(), by_draw.end(),
                     [](const SpreadShare& a, const SpreadShare& b) { return a.share > b.share; });
    std::vector<size_t> out;
    for (const SpreadShare& share : by_draw)
        for (size_t k = 0; k < space.draws().size() && out.size() < most; ++k)
            if (is_of(space.draws()[k], share)) out.push_back(k);
    return out;
}

/// A digit of a grid point in the base of three, as -1, 0 or 1.
int level(int index, size_t digit) {
    for (size_t d = 0; d < digit; ++d) index /= 3;
    return index % 3 - 1;
}

/// One sample for every point of the grid: the varied draws at either end or in the middle, all others in it.
std::vector<SampleOutcome> judge_grid(const SampleSpace& space, const std::vector<size_t>& varied) {
    const SampleEvaluator evaluator(space);
    SampleWorker worker(evaluator);
    int count = 1;
    for (size_t k = 0; k < varied.size(); ++k) count *= 3;
    std::vector<double> uniforms;
    std::vector<SampleOutcome> outcomes;
    worker.evaluate(
        count,
        [&](int index, std::uint32_t attempt, double* u) {
            if (attempt > 0) return false;
            std::fill(u, u + space.draws().size(), 0.5);
            constexpr double end = 1e-12;
            for (size_t d = 0; d < varied.size(); ++d) u[varied[d]] = 0.5 + (0.5 - end) * level(index, d);
            return true;
        },
        uniforms, outcomes);
    return outcomes;
}

}  // namespace

Corners corners(const Case& input, const SpreadResult& result) {
    const SampleSpace space(input);
    const std::vector<size_t> varied = draws_that_matter(space, result);
    const std::vector<SampleOutcome> outcomes = judge_grid(space, varied);
    Corners out;
    for (const size_t k : varied) out.keys.push_back(space.label(space.draws()[k]));
    out.worst_corner = out.worst_of_grid = 2;
    for (size_t index = 0; index < outcomes.size(); ++index) {
        const double damping = outcomes[index].damping_ratio;
        if (std::isnan(damping)) continue;
        std::vector<double> at;
        for (size_t d = 0; d < varied.size(); ++d) at.push_back(level(static_cast<int>(index), d));
        const bool corner = std::find(at.begin(), at.end(), 0.0) == at.end();
        if (damping < out.worst_of_grid) {
            out.worst_of_grid = damping;
            out.grid_at = at;
        }
        if (corner && damping < out.worst_corner) {
            out.worst_corner = damping;
            out.at = at;
        }
    }
    out.worst_inside = out.worst_of_grid < out.worst_corner;
    return out;
}

}  // namespace ringquell
