// Compiled with -ffp-contract=off (src/CMakeLists.txt): no instruction set may round differently from
// another.
#include "numerics/batched_eigenvalues.h"

#include <cstdint>
#include <memory>
#include <stdexcept>
#include <string>

#if defined(__x86_64__)
#include <immintrin.h>
#endif

namespace ringquell::internal {
namespace {

constexpr int lanes = BatchedEigenvalues::lanes;

struct Pair {
    double real1, real2;
    double imag;  ///< of the first; the second is its conjugate
};

double with_sign(double magnitude, double sign) {
    return sign < 0 ? -magnitude : magnitude;
}

/// Eigenvalues of [a b; c d] as dlanv2 finds them: where they are close, the diagonal is first made equal by
/// a rotation, so that a double eigenvalue loses no more than it must.
Pair eigenvalues_of_2x2(double a, double b, double c, double d) {
    constexpr double close = 4 * 0x1p-53;
    if (c == 0) return {a, d, 0};
    if (b == 0) return {d, a, 0};
    const double difference = a - d;
    if (difference == 0 && (b < 0) != (c < 0)) {
        return {a, d, __builtin_sqrt(__builtin_fabs(b)) * __builtin_sqrt(__builtin_fabs(c))};
    }
    const double p = 0.5 * difference;
    const double abs_b = __builtin_fabs(b), abs_c = __builtin_fabs(c), abs_p = __builtin_fabs(p);
    const double larger = abs_b > abs_c ? abs_b : abs_c;
    const double smaller = with_sign(with_sign(abs_b > abs_c ? abs_c : abs_b, b), c);
    const double scale = abs_p > larger ? abs_p : larger;
    double z = p / scale * p + larger / scale * smaller;
    if (z >= close) {
        z = p + with_sign(__builtin_sqrt(scale) * __builtin_sqrt(z), p);
        return {d + z, d - larger / z * smaller, 0};
    }
    const double sigma = b + c;
    const double tau = __builtin_sqrt(sigma * sigma + difference * difference);
    const double cs = __builtin_sqrt(0.5 * (1 + __builtin_fabs(sigma) / tau));
    const double sn = -(p / (tau * cs)) * with_sign(1, sigma);
    const double aa = a * cs + b * sn, bb = -a * sn + b * cs, cc = c * cs + d * sn, dd = -c * sn + d * cs;
    const double mean = 0.5 * ((aa * cs + cc * sn) + (-bb * sn + dd * cs));
    const double b1 = bb * cs + dd * sn, c1 = -aa * sn + cc * cs;
    const double product = __builtin_sqrt(__builtin_fabs(b1)) * __builtin_sqrt(__builtin_fabs(c1));
    if (b1 != 0 && c1 != 0 && (b1 < 0) != (c1 < 0)) return {mean, mean, product};
    return {mean + product, mean - product, 0};
}

}  // namespace

// As many lanes as the set's registers hold: GCC cuts a wider pack into pieces, at four times the time (eight
// lanes on AVX2, measured). On AVX-512 eight lanes are faster than four, though a matrix of 25 leaves the
// first-level cache.
namespace baseline {
namespace {
constexpr int width = 2;
#include "numerics/batched_eigenvalues_iteration.inc"
}  // namespace
}  // namespace baseline

#if defined(__x86_64__)

#if defined(__clang__)
#pragma clang attribute push(__attribute__((target("avx2"))), apply_to = function)
#else
#pragma GCC push_options
#pragma GCC target("avx2")
#endif
namespace avx2 {
namespace {
constexpr int width = 4;
#include "numerics/batched_eigenvalues_iteration.inc"
}  // namespace
}  // namespace avx2
#if defined(__clang__)
#pragma clang attribute pop
#pragma clang attribute push(__attribute__((target("avx512f,avx512vl,avx512dq"))), apply_to = function)
#else
#pragma GCC pop_options
#pragma GCC push_options
#pragma GCC target("avx512f,avx512vl,avx512dq")
#endif
namespace avx512 {
namespace {
constexpr int width = 8;
#include "numerics/batched_eigenvalues_iteration.inc"
}  // namespace
}  // namespace avx512
#if defined(__clang__)
#pragma clang attribute pop
#else
#pragma GCC pop_options
#endif

#endif

BatchedEigenvalues::BatchedEigenvalues(int n) : n_(n), kernel_(Kernel::baseline) {
    if (n < 1)
        throw std::invalid_argument("BatchedEigenvalues: n = " + std::to_string(n) + ", must be at least 1");
    if (available(Kernel::avx2)) kernel_ = Kernel::avx2;
    if (available(Kernel::avx512)) kernel_ = Kernel::avx512;
    const std::size_t size = static_cast<std::size_t>(n);
    work_.resize((size * (size + 1) + 4 * size + 1) * lanes);
}

bool BatchedEigenvalues::available(Kernel kernel) {
#if defined(__x86_64__)
    if (kernel == Kernel::avx2) return __builtin_cpu_supports("avx2");
    if (kernel == Kernel::avx512)
        return __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
               __builtin_cpu_supports("avx512dq");
#endif
    return kernel == Kernel::baseline;
}

void BatchedEigenvalues::set_kernel(Kernel kernel) {
    if (!available(kernel))
        throw std::invalid_argument("BatchedEigenvalues: this processor lacks the kernel");
    kernel_ = kernel;
}

std::array<LaneStatus, BatchedEigenvalues::lanes> BatchedEigenvalues::solve(const double* matrices,
                                                                            double* real, double* imag) {
    std::array<LaneStatus, lanes> status{};
    void* start = work_.data();
    std::size_t room = work_.size() * sizeof(double);
    double* space = static_cast<double*>(std::align(64, room - 64, start, room));
    const auto run = [&](auto solve_some, int width) {
        for (int k = 0; k < lanes; k += width)
            solve_some(n_, balance, space, matrices + k, real + k, imag + k, status.data() + k);
    };
    switch (kernel_) {
#if defined(__x86_64__)
        case Kernel::avx512:
            run(avx512::solve, avx512::width);
            break;
        case Kernel::avx2:
            run(avx2::solve, avx2::width);
            break;
#endif
        default:
            run(baseline::solve, baseline::width);
    }
    return status;
}

}  // namespace ringquell::internal
