// The reduction of a network and its explicit form as one straight-line program, run on eight sets of values
// at once.
#pragma once

#include <cstdint>
#include <vector>

#include "network/reducer.h"
#include "numerics/tape.h"
#include "ringquell/network.h"

namespace ringquell::internal {

inline constexpr int pack_lanes = 8;

/// Records Reducer's tape and the solution of E·X = A behind it (sparse, pivots chosen once), without what
/// nothing needs, numbers that are no longer needed sharing their places.
struct PackedProgram {
    struct Instruction {
        Tape::Op op;
        std::int32_t out, a, b, c;
    };
    struct Entry {
        int row, column, place;
    };
    /// As EliminationStep, with places.
    struct Step {
        int q;
        bool swapped;
        std::vector<std::pair<int, int>> m, k;
        int pivot;
    };
    /// What the common share is summed over (common_share.h): √value·Σ sign·x, the value scale·(number at
    /// place) − less_scale·(number at less).
    struct Amplitude {
        int slot, place;
        double scale;
        int less;  // −1: none
        double less_scale;
        Incidence right;
    };

    int elements = 0;  // values given, in natural units, at places 0 … elements − 1; then 1 and −1
    int places = 0;
    int states = 0;
    int unknowns = 0;
    int slots = 0;
    int positions = 0;
    std::vector<Instruction> code;
    std::vector<Entry> matrix;         // of E⁻¹·A, states × states, 1/ns
    std::vector<int> divisors;         // places of numbers that were divided by, kept to the end
    std::vector<double> divisor_size;  // and their sizes where the program was recorded
    std::vector<Step> steps;
    std::vector<int> kept;
    std::vector<Amplitude> amplitudes;
};

/// `values`: those of the network, in natural units, at which the pivots are chosen. Equal values count as
/// equal always: give different values to what may differ.
PackedProgram packed_program(const Network& network, int positions);

/// The kernels below are compiled for AVX-512, AVX2 and neither, without fused multiply-add: equal bits
/// everywhere. Number i of lane k stands at [i · pack_lanes + k].

/// Runs the program: `numbers` holds `places` packs, the elements' given.
void run_packed(const PackedProgram& program, double* numbers);

/// A buffer of doubles that begins at a cache line.
class AlignedBuffer {
  public:
    double* resize(size_t count);
    double* data() const { return data_; }

  private:
    std::vector<double> space_;
    double* data_ = nullptr;
};

/// What a program has computed, and an eigenvalue in each lane.
struct PackedEigenpairs {
    const double* numbers;
    const double* matrix;       // as BatchedEigenvalues takes it, column by column
    const double *real, *imag;  // of the eigenvalues, 1/ns
};

/// One eigenvector in each lane and its common share.
class PackedShares {
  public:
    /// share: |Σxᵢ|²/(N·Σ|xᵢ|²) as in common_share.h; residual: ‖(A − λ)x‖₁/(‖A‖₁‖x‖₁), by which the caller
    /// judges it.
    void compute(const PackedProgram& program, const PackedEigenpairs& in, double* share, double* residual);

  private:
    static size_t space_of(const PackedProgram& program);
    AlignedBuffer space_;
    std::vector<int> exchanged_;
};

}  // namespace ringquell::internal
