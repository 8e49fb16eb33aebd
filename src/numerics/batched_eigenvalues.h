// All eigenvalues of several real matrices of equal size at once, one matrix in each lane of a SIMD register.
#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "numerics/instruction_sets.h"

namespace ringquell::internal {

/// How the iteration ended in one lane. Where it is not `converged`, the lane's eigenvalues are NaN, and the
/// caller takes another solver.
enum class LaneStatus { converged, iteration_limit, not_finite };

/// Eigenvalues, without vectors, of up to `lanes` real nonsymmetric n × n matrices.
///
/// Each matrix is balanced by powers of two (without dgebal's permutation), reduced to Hessenberg form by
/// reflections, and iterated by Francis' double-shift QR with the shifts, the deflation test and the
/// treatment of 2 × 2 blocks of LAPACK's dlahqr and dlanv2. All lanes go in step; a lane whose matrix has
/// converged idles. So matrices of one kind (samples of the same circuit) go together best.
///
/// The eigenvalues are those of A + F, ‖F‖ of the order of 1e-16 · n · ‖balanced A‖. Every lane's result
/// depends on its own matrix alone, bit for bit: not on the lane, not on the other matrices, and not on the
/// processor: the kernel is compiled for AVX-512, AVX2 and neither, and all round alike (no fused
/// multiply-add).
///
/// An object owns its work space and is for one thread at a time; `solve` does not allocate.
///
/// Sources: G. H. Golub, C. F. Van Loan, Matrix Computations, 4th ed., §7.4-7.5; E. Anderson et al., LAPACK
/// Users' Guide, 3rd ed., dgebal, dlahqr, dlanv2; M. Ahues, F. Tisseur, LAPACK Working Note 122 (deflation).
class BatchedEigenvalues {
  public:
    static constexpr int lanes = 8;

    /// Work space for n × n matrices, about 8 n² lanes bytes. Throws std::invalid_argument unless n ≥ 1.
    explicit BatchedEigenvalues(int n);

    int size() const { return n_; }

    /// Entry (i, j) of the matrix in lane k is matrices[(i + n·j) · lanes + k]; n² · lanes values, only read.
    /// Writes eigenvalue i of lane k to real[i · lanes + k] and imag[i · lanes + k]; n · lanes values each. A
    /// complex pair stands in adjacent places, positive imaginary part first; there is no other order.
    /// Lanes that are not wanted may hold anything finite; zeros cost least.
    std::array<LaneStatus, lanes> solve(const double* matrices, double* real, double* imag);

    /// Whether `solve` balances first. Pointless where the entries are of one magnitude already.
    bool balance = true;

    /// Which compiled kernel runs; a faster one is chosen by the processor. For tests and timings.
    using Kernel = InstructionSet;
    static bool available(Kernel kernel);
    Kernel kernel() const { return kernel_; }
    /// Throws std::invalid_argument unless available(kernel).
    void set_kernel(Kernel kernel);

  private:
    int n_;
    Kernel kernel_;
    std::vector<double> work_;
};

}  // namespace ringquell::internal
