// Compiled with -fno-math-errno (CMakeLists.txt), so that the loops over lanes vectorise.
#include "numerics/batched_determinant.h"

#include <algorithm>
#include <cmath>
#include <cstdint>
#include <memory>
#include <numbers>
#include <numeric>

#include "numerics/instruction_sets.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

constexpr int lanes = BatchedDeterminant::lanes;

/// Real and imaginary parts of one entry in all lanes.
struct alignas(64) Pack {
    double re[lanes], im[lanes];
};

/// The determinant as a product whose power of two is kept apart, so that it stays in the range of doubles.
struct ScaledProduct {
    Pack value;
    std::int64_t powers[lanes];
};

/// PencilLu::Plan as bare pointers, which the kernels may index without calling anything.
struct Columns {
    int n;
    const int *upper_starts, *upper, *lower_starts, *lower, *entry_starts;
    const PencilLu::Plan::Entry* entries;
};

}  // namespace

#define RINGQUELL_KERNEL "numerics/batched_determinant.inc"
#include "numerics/each_instruction_set.inc"

namespace {

/// ln of lane k, as logarithm and phase.
std::complex<double> logarithm(const ScaledProduct& product, size_t k) {
    const double re = product.value.re[k], im = product.value.im[k];
    return {0.5 * std::log(re * re + im * im) + std::numbers::ln2 * static_cast<double>(product.powers[k]),
            std::atan2(im, re)};
}

/// `count` packs in a buffer of doubles, at the alignment that a pack needs.
Pack* packs(std::vector<double>& buffer, size_t count) {
    constexpr size_t doubles = sizeof(Pack) / sizeof(double);
    if (buffer.size() < (count + 1) * doubles) buffer.resize((count + 1) * doubles);
    void* start = buffer.data();
    size_t room = buffer.size() * sizeof(double);
    return static_cast<Pack*>(std::align(alignof(Pack), count * sizeof(Pack), start, room));
}

}  // namespace

const PencilLu::Plan& BatchedDeterminant::plan_near(std::complex<double> lambda) {
    const int decades = static_cast<int>(std::floor(0.5 * std::log10(std::abs(lambda))));
    const auto [it, added] = plans_.try_emplace(decades);
    if (added) {
        if (!lu_.factor(lambda) && !lu_.factor(lambda * 1.01)) {
            plans_.erase(it);
            throw NumericalError("the pencil is singular on the path of an argument count");
        }
        it->second = lu_.plan();
    }
    return it->second;
}

std::vector<std::complex<double>> BatchedDeterminant::log_determinants(
    const std::vector<std::complex<double>>& lambdas) {
    using Eliminate = void(const Columns&, const Pack&, Pack*, Pack*, ScaledProduct&);
    constexpr PerSet<Eliminate> kernels = RINGQUELL_PER_SET(eliminate);
    Eliminate* const kernel = kernels[static_cast<size_t>(widest_set())];
    std::vector<std::complex<double>> out(lambdas.size());
    std::vector<size_t> order(lambdas.size());
    std::iota(order.begin(), order.end(), size_t{0});
    std::sort(order.begin(), order.end(),
              [&](size_t i, size_t j) { return std::abs(lambdas[i]) < std::abs(lambdas[j]); });
    for (size_t first = 0; first < order.size(); first += lanes) {
        const size_t filled = std::min<size_t>(lanes, order.size() - first);
        const PencilLu::Plan& plan = plan_near(lambdas[order[first]]);
        const Columns columns{
            lu_.size(),        plan.upper_starts.data(), plan.upper.data(),  plan.lower_starts.data(),
            plan.lower.data(), plan.entry_starts.data(), plan.entries.data()};
        Pack lambda;
        ScaledProduct product;
        for (size_t k = 0; k < lanes; ++k) {
            const std::complex<double> value = lambdas[order[first + std::min(k, filled - 1)]];
            lambda.re[k] = value.real();
            lambda.im[k] = value.imag();
        }
        kernel(columns, lambda, packs(work_, static_cast<size_t>(lu_.size())),
               packs(columns_, plan.lower.size() + 1), product);
        for (size_t k = 0; k < filled; ++k) {
            const std::complex<double> value = logarithm(product, k);
            out[order[first + k]] = {
                value.real(),
                std::remainder(value.imag() + (plan.odd ? std::numbers::pi : 0), 2 * std::numbers::pi)};
        }
        count_ += static_cast<long>(filled);
    }
    return out;
}

}  // namespace ringquell::internal
