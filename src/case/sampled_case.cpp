#include "case/sampled_case.h"

#include <algorithm>
#include <cmath>
#include <map>

#include "case/tolerances.h"
#include "numerics/random_numbers.h"
#include "ringquell/numbers.h"

namespace ringquell::internal {

namespace {

constexpr double cut_off = 3;  // standard deviations in a tolerance of a normal distribution
constexpr double below_cut_off = 0.0013498980316300946;  // Φ(−3)

}  // namespace

SampledCase::SampledCase(const SampleSpace& space) : input_(space.input()) {
    input_.spread.clear();
    // All of these first, so that pointers stay.
    for (const Draw& draw : space.draws()) give_points_own_devices(input_, space.label(draw));
    std::map<double*, double> distinct;
    for (size_t k = 0; k < space.draws().size(); ++k) {
        const Draw& draw = space.draws()[k];
        const Tolerance& tolerance = space.tolerance(draw);
        for (double* value : varying_number(input_, tolerance.key, draw.position).values) {
            distinct[value] = *value;
            double amount = tolerance.relative ? tolerance.amount * std::abs(*value) : tolerance.amount;
            double down = amount;
            if (tolerance.at_least > amount) {
                constexpr double always_left = 0.1;
                amount = *value == 0 ? 0 : tolerance.at_least;
                down = std::min(amount, (1 - always_left) * std::abs(*value));
            }
            targets_.push_back({value, amount, down, k, tolerance.distribution == Distribution::normal});
        }
    }
    nominal_.assign(distinct.begin(), distinct.end());
}

void SampledCase::set(const double* uniforms) {
    for (const auto& [value, nominal] : nominal_) *value = nominal;
    size_t last = static_cast<size_t>(-1);
    double t = 0;  // in [−1, 1]
    for (const Target& target : targets_) {
        if (target.draw != last) {
            last = target.draw;
            const double u = uniforms[target.draw];
            t = target.normal ? normal_quantile(below_cut_off + u * (1 - 2 * below_cut_off)) / cut_off
                              : 2 * u - 1;
            t = std::clamp(t, -1.0, 1.0);
        }
        *target.value += (t >= 0 ? target.up : target.down) * t;
    }
    limit_tables();
}

void SampledCase::limit_tables() {
    const auto limit = [](Die& die) {
        auto* table = std::get_if<CapacitanceTable>(&die.capacitance);
        if (!table || (table->ciss_factor == 1 && table->coss_factor == 1 && table->crss_factor == 1)) return;
        constexpr double within = 1 - 1e-9;
        for (const auto& row : table->rows)
            if (row.crss_f > 0)
                table->crss_factor = std::min(
                    table->crss_factor,
                    within * std::min(row.ciss_f * table->ciss_factor, row.coss_f * table->coss_factor) /
                        row.crss_f);
    };
    for (Position& p : input_.positions) {
        limit(p.device.mosfet);
        limit(p.device.jfet);
    }
    for (Point& point : input_.operation.points)
        for (Device& device : point.devices) {
            limit(device.mosfet);
            limit(device.jfet);
        }
}

void SampledCase::remember_zeros() {
    zero_.clear();
    for (const auto& [value, nominal] : nominal_) zero_.push_back(*value == 0);
}

bool SampledCase::same_zeros() const {
    for (size_t i = 0; i < nominal_.size(); ++i)
        if ((*nominal_[i].first == 0) != zero_[i]) return false;
    return true;
}

}  // namespace ringquell::internal
