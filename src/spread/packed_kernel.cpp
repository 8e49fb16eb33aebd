// The kernels of packed_program.h, once for each instruction set.
#include "spread/packed_program.h"

namespace ringquell::internal {

namespace baseline {
namespace {
constexpr int width = 2;
#include "spread/packed_kernel.inc"
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
#include "spread/packed_kernel.inc"
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
#include "spread/packed_kernel.inc"
}  // namespace
}  // namespace avx512
#if defined(__clang__)
#pragma clang attribute pop
#else
#pragma GCC pop_options
#endif
#endif

namespace {

#if defined(__x86_64__)
const bool has_avx2 = __builtin_cpu_supports("avx2");
const bool has_avx512 = __builtin_cpu_supports("avx512f") && __builtin_cpu_supports("avx512vl") &&
                        __builtin_cpu_supports("avx512dq");
#endif

/// Calls some(first lane) with the widest kernel.
template <class Baseline, class Avx2, class Avx512>
void on_lanes(Baseline baseline_some, [[maybe_unused]] Avx2 avx2_some, [[maybe_unused]] Avx512 avx512_some) {
#if defined(__x86_64__)
    if (has_avx512) return avx512_some(0);
    if (has_avx2) {
        for (int k = 0; k < pack_lanes; k += avx2::width) avx2_some(k);
        return;
    }
#endif
    for (int k = 0; k < pack_lanes; k += baseline::width) baseline_some(k);
}

}  // namespace

#if !defined(__x86_64__)
namespace avx2 = baseline;
namespace avx512 = baseline;
#endif

void run_packed(const PackedProgram& program, double* numbers) {
    double* constants = numbers + static_cast<long>(program.elements) * pack_lanes;
    for (int k = 0; k < pack_lanes; ++k) {
        constants[k] = 1;
        constants[pack_lanes + k] = -1;
    }
    on_lanes([&](int k) { baseline::run(program, numbers + k); },
             [&](int k) { avx2::run(program, numbers + k); },
             [&](int k) { avx512::run(program, numbers + k); });
}

size_t PackedShares::space_of(const PackedProgram& program) {
    const auto n = static_cast<size_t>(program.states), m = static_cast<size_t>(program.unknowns),
               s = static_cast<size_t>(program.slots);
    return (2 * n * n + 2 * n + 2 * m + 2 * s) * pack_lanes;
}

void PackedShares::compute(const PackedProgram& program, const PackedEigenpairs& in, double* share,
                           double* residual) {
    double* space = space_.resize(space_of(program));
    exchanged_.resize(static_cast<size_t>(program.states) * pack_lanes);
    const auto lanes_from = [&](auto some, int k) {
        const PackedEigenpairs from{in.numbers + k, in.matrix + k, in.real + k, in.imag + k};
        some(program, from, space + k, exchanged_.data() + k, share + k, residual + k);
    };
    on_lanes([&](int k) { lanes_from(baseline::shares, k); }, [&](int k) { lanes_from(avx2::shares, k); },
             [&](int k) { lanes_from(avx512::shares, k); });
}

}  // namespace ringquell::internal
