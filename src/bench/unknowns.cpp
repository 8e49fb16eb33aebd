#include "bench/unknowns.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "case/sample_space.h"
#include "case/tolerances.h"
#include "devices/gate_current.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

/// A number within its tolerance, both ways (sampled_case.h): the mean of what it may rise and fall.
double half_width(const Tolerance& tolerance, double nominal) {
    const double amount = tolerance.relative ? tolerance.amount * std::abs(nominal) : tolerance.amount;
    if (tolerance.at_least <= amount) return amount;
    if (nominal == 0) return 0;
    constexpr double always_left = 0.1;
    return 0.5 * (tolerance.at_least + std::min(tolerance.at_least, (1 - always_left) * std::abs(nominal)));
}

double standard_deviation(const Tolerance& tolerance, double nominal) {
    constexpr double deviations_in_normal = 3;
    return half_width(tolerance, nominal) /
           (tolerance.distribution == Distribution::normal ? deviations_in_normal : std::numbers::sqrt3);
}

}  // namespace

bool moves_points(const Case& input, const std::string& key) {
    return key.starts_with("device") || key.starts_with("operation") ||
           key.starts_with("junction_temperature") || key.find("complementary") != std::string::npos ||
           has_saturating_bead(input);
}

double UnknownNumber::value(double x) const {
    return logarithmic ? nominal * std::exp(deviation * x) : nominal + deviation * x;
}

double UnknownNumber::error(double x, double standard_deviation) const {
    return (logarithmic ? value(x) * deviation : deviation) * standard_deviation;
}

UnknownCase::UnknownCase(const Case& input)
    : input_(input), pull_down_ohm_(input.driver.pull_down_resistance_ohm) {
    if (input.spread.empty()) return;
    const SampleSpace space(input);
    input_.spread.clear();
    // All of these first, so that pointers stay.
    for (const Draw& draw : space.draws()) give_points_own_devices(input_, space.label(draw));
    for (const Draw& draw : space.draws())
        add(space.tolerance(draw), draw.tolerance, draw.position, space.label(draw));
}

UnknownCase::UnknownCase(const Case& input, const std::vector<Tolerance>& alone)
    : input_(input), pull_down_ohm_(input.driver.pull_down_resistance_ohm) {
    input_.spread.clear();
    for (const Tolerance& tolerance : alone) give_points_own_devices(input_, tolerance.key);
    for (size_t k = 0; k < alone.size(); ++k) add(alone[k], k, 0, alone[k].key);
}

void UnknownCase::add(const Tolerance& tolerance, size_t index, int position, const std::string& label) {
    const VaryingNumber number = varying_number(input_, tolerance.key, position);
    if (std::all_of(number.values.begin(), number.values.end(),
                    [&](const double* v) { return standard_deviation(tolerance, *v) == 0; }))
        return;
    UnknownNumber unknown;
    unknown.label = label;
    unknown.tolerance = index;
    unknown.position = position;
    unknown.batch = tolerance.vary == Vary::batch;
    unknown.curve = number.curve;
    unknown.logarithmic = !number.may_be_negative && std::all_of(number.values.begin(), number.values.end(),
                                                                 [](const double* v) { return *v > 0; });
    unknown.moves_points = moves_points(input_, label);
    if (!number.curve) unknown.dimension = find_number(std::as_const(input_), label).dimension;
    unknown.nominal = number.curve ? 1 : *number.values.front();
    const size_t first = targets_.size();
    for (double* value : number.values) {
        const double scale = unknown.logarithmic ? *value : 1;
        targets_.push_back({value, *value, standard_deviation(tolerance, *value) / scale, unknown.logarithmic,
                            static_cast<Eigen::Index>(unknowns_.size())});
    }
    unknown.deviation = targets_[first].deviation;
    unknowns_.push_back(std::move(unknown));
}

void UnknownCase::set(const Eigen::VectorXd& x) {
    input_.probes.clear();
    input_.driver.pull_down_resistance_ohm = pull_down_ohm_;
    for (const Target& t : targets_) *t.value = t.nominal;
    for (const Target& t : targets_)
        if (t.logarithmic)
            *t.value *= std::exp(t.deviation * x[t.unknown]);
        else
            *t.value += t.deviation * x[t.unknown];
}

}  // namespace ringquell::internal
