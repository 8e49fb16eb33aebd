// Compiled with -ffp-contract=off (CMakeLists.txt): no instruction set may round differently from
// another.
#include "numerics/batched_eigenvalues.h"

#include <cstdint>
#include <memory>
#include <stdexcept>
#include <string>

#include "numerics/instruction_sets.h"

#if defined(RINGQUELL_X86)
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

// On AVX-512 eight lanes are faster than four, though a matrix of 25 leaves the first-level cache.
#define RINGQUELL_KERNEL "numerics/batched_eigenvalues_iteration.inc"
#include "numerics/each_instruction_set.inc"

BatchedEigenvalues::BatchedEigenvalues(int n) : n_(n), kernel_(widest_set()) {
    if (n < 1)
        throw std::invalid_argument("BatchedEigenvalues: n = " + std::to_string(n) + ", must be at least 1");
    const std::size_t size = static_cast<std::size_t>(n);
    work_.resize((size * (size + 1) + 4 * size + 1) * lanes);
}

bool BatchedEigenvalues::available(Kernel kernel) {
    return internal::available(kernel);
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
    using Solve = void(int, bool, double*, const double*, double*, double*, LaneStatus*);
    constexpr PerSet<Solve> kernels = RINGQUELL_PER_SET(solve);
    on_lanes(kernel_, lanes, kernels, [&](Solve* solve_some, int k) {
        solve_some(n_, balance, space, matrices + k, real + k, imag + k, status.data() + k);
    });
    return status;
}

}  // namespace ringquell::internal
