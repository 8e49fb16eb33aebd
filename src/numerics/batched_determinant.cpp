// Compiled with -fno-math-errno (src/CMakeLists.txt), so that the loops over lanes vectorise.
#include "numerics/batched_determinant.h"

#include <algorithm>
#include <bit>
#include <cmath>
#include <cstdint>
#include <memory>
#include <numbers>
#include <numeric>

#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

constexpr int lanes = BatchedDeterminant::lanes;

/// Real and imaginary parts of one entry in all lanes.
struct alignas(64) Pack {
    double re[lanes], im[lanes];
};

/// ln det as logarithm and phase per lane. `x`: one pack per row; `l`: one per entry of L.
[[gnu::always_inline]] inline void eliminate(const PencilLu::Plan& plan, int n, const Pack& lambda,
                                             Pack* __restrict x, Pack* __restrict l, Pack& result) {
    // The determinant as a running product whose power of two is kept apart, so that it stays in the range of
    // doubles.
    Pack product;
    std::int64_t powers[lanes];
    for (int k = 0; k < lanes; ++k) {
        product.re[k] = 1;
        product.im[k] = 0;
        powers[k] = 0;
    }
    for (int j = 0; j < n; ++j) {
        const int *upper = plan.upper.data() + plan.upper_starts[static_cast<size_t>(j)],
                  *upper_end = plan.upper.data() + plan.upper_starts[static_cast<size_t>(j) + 1];
        const int begin = plan.lower_starts[static_cast<size_t>(j)],
                  end = plan.lower_starts[static_cast<size_t>(j) + 1];
        const int* lower = plan.lower.data();
        const auto clear = [x](int row) {
            for (int k = 0; k < lanes; ++k) x[row].re[k] = x[row].im[k] = 0;
        };
        for (const int* u = upper; u != upper_end; ++u) clear(*u);
        clear(j);
        for (int i = begin; i < end; ++i) clear(lower[i]);
        for (int i = plan.entry_starts[static_cast<size_t>(j)];
             i < plan.entry_starts[static_cast<size_t>(j) + 1]; ++i) {
            const auto& entry = plan.entries[static_cast<size_t>(i)];
            Pack& target = x[entry.row];
            for (int k = 0; k < lanes; ++k) {
                target.re[k] = lambda.re[k] * entry.e - entry.a;
                target.im[k] = lambda.im[k] * entry.e;
            }
        }
        for (const int* u = upper; u != upper_end; ++u) {
            const Pack factor = x[*u];
            const int stop = plan.lower_starts[static_cast<size_t>(*u) + 1];
            for (int i = plan.lower_starts[static_cast<size_t>(*u)]; i < stop; ++i) {
                Pack& target = x[lower[i]];
                const Pack& source = l[i];
                for (int k = 0; k < lanes; ++k) {
                    target.re[k] -= source.re[k] * factor.re[k] - source.im[k] * factor.im[k];
                    target.im[k] -= source.re[k] * factor.im[k] + source.im[k] * factor.re[k];
                }
            }
        }
        const Pack pivot = x[j];
        if (begin != end) {
            Pack inverse;
            for (int k = 0; k < lanes; ++k) {
                const double square = pivot.re[k] * pivot.re[k] + pivot.im[k] * pivot.im[k];
                inverse.re[k] = pivot.re[k] / square;
                inverse.im[k] = -pivot.im[k] / square;
            }
            for (int i = begin; i < end; ++i) {
                const Pack& source = x[lower[i]];
                for (int k = 0; k < lanes; ++k) {
                    l[i].re[k] = source.re[k] * inverse.re[k] - source.im[k] * inverse.im[k];
                    l[i].im[k] = source.re[k] * inverse.im[k] + source.im[k] * inverse.re[k];
                }
            }
        }
        for (int k = 0; k < lanes; ++k) {
            const double re = product.re[k] * pivot.re[k] - product.im[k] * pivot.im[k];
            product.im[k] = product.re[k] * pivot.im[k] + product.im[k] * pivot.re[k];
            product.re[k] = re;
        }
        constexpr int often = 4;  // pivots of boards lie within 1e-12 … 1e12
        if (j % often == often - 1) {
            for (int k = 0; k < lanes; ++k) {
                const double re_size = std::abs(product.re[k]), im_size = std::abs(product.im[k]);
                const auto exponent =
                    static_cast<std::int64_t>(
                        std::bit_cast<std::uint64_t>(re_size > im_size ? re_size : im_size) >> 52) -
                    1023;
                const auto scale = std::bit_cast<double>(static_cast<std::uint64_t>(1023 - exponent) << 52);
                product.re[k] *= scale;
                product.im[k] *= scale;
                powers[k] += exponent;
            }
        }
    }
    for (int k = 0; k < lanes; ++k) {
        result.re[k] = 0.5 * std::log(product.re[k] * product.re[k] + product.im[k] * product.im[k]) +
                       std::numbers::ln2 * static_cast<double>(powers[k]);
        result.im[k] = std::atan2(product.im[k], product.re[k]);
    }
}

void eliminate_baseline(const PencilLu::Plan& plan, int n, const Pack& lambda, Pack* x, Pack* l,
                        Pack& result) {
    eliminate(plan, n, lambda, x, l, result);
}
#if defined(__x86_64__)
[[gnu::target("avx2,fma")]] void eliminate_avx2(const PencilLu::Plan& plan, int n, const Pack& lambda,
                                                Pack* x, Pack* l, Pack& result) {
    eliminate(plan, n, lambda, x, l, result);
}
[[gnu::target("avx512f,avx512vl,avx512dq,prefer-vector-width=512")]] void eliminate_avx512(
    const PencilLu::Plan& plan, int n, const Pack& lambda, Pack* x, Pack* l, Pack& result) {
    eliminate(plan, n, lambda, x, l, result);
}
#endif

using Kernel = void (*)(const PencilLu::Plan&, int, const Pack&, Pack*, Pack*, Pack&);

Kernel best_kernel() {
#if defined(__x86_64__)
    if (__builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
        __builtin_cpu_supports("avx512dq"))
        return eliminate_avx512;
    if (__builtin_cpu_supports("avx2") && __builtin_cpu_supports("fma")) return eliminate_avx2;
#endif
    return eliminate_baseline;
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
    static const Kernel kernel = best_kernel();
    std::vector<std::complex<double>> out(lambdas.size());
    std::vector<size_t> order(lambdas.size());
    std::iota(order.begin(), order.end(), size_t{0});
    std::sort(order.begin(), order.end(),
              [&](size_t i, size_t j) { return std::abs(lambdas[i]) < std::abs(lambdas[j]); });
    for (size_t first = 0; first < order.size(); first += lanes) {
        const size_t filled = std::min<size_t>(lanes, order.size() - first);
        const PencilLu::Plan& plan = plan_near(lambdas[order[first]]);
        Pack lambda, result;
        for (size_t k = 0; k < lanes; ++k) {
            const std::complex<double> value = lambdas[order[first + std::min(k, filled - 1)]];
            lambda.re[k] = value.real();
            lambda.im[k] = value.imag();
        }
        kernel(plan, lu_.size(), lambda, packs(work_, static_cast<size_t>(lu_.size())),
               packs(columns_, plan.lower.size() + 1), result);
        for (size_t k = 0; k < filled; ++k)
            out[order[first + k]] = {
                result.re[k],
                std::remainder(result.im[k] + (plan.odd ? std::numbers::pi : 0), 2 * std::numbers::pi)};
        count_ += static_cast<long>(filled);
    }
    return out;
}

}  // namespace ringquell::internal
