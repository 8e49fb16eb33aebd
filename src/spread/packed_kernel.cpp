// The kernels of packed_program.h, once for each instruction set.
#include "numerics/instruction_sets.h"
#include "spread/packed_program.h"

namespace ringquell::internal {

#define RINGQUELL_KERNEL "spread/packed_kernel.inc"
#include "numerics/each_instruction_set.inc"

void run_packed(const PackedProgram& program, double* numbers) {
    double* constants = numbers + static_cast<long>(program.elements) * pack_lanes;
    for (int k = 0; k < pack_lanes; ++k) {
        constants[k] = 1;
        constants[pack_lanes + k] = -1;
    }
    using Run = void(const PackedProgram&, double*);
    constexpr PerSet<Run> kernels = RINGQUELL_PER_SET(run);
    on_lanes(widest_set(), pack_lanes, kernels,
             [&](Run* run_some, int k) { run_some(program, numbers + k); });
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
    using Shares = void(const PackedProgram&, const PackedEigenpairs&, double*, int*, double*, double*);
    constexpr PerSet<Shares> kernels = RINGQUELL_PER_SET(shares);
    on_lanes(widest_set(), pack_lanes, kernels, [&](Shares* some, int k) {
        const PackedEigenpairs from{in.numbers + k, in.matrix + k, in.real + k, in.imag + k};
        some(program, from, space + k, exchanged_.data() + k, share + k, residual + k);
    });
}

}  // namespace ringquell::internal
