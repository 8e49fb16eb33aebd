// Sparse LU of a complex matrix with a fixed pattern (KLU of SuiteSparse): factors of λE − A and their
// determinant.
#pragma once

#include <klu.h>

#include <Eigen/SparseCore>
#include <complex>
#include <vector>

namespace ringquell::internal {

/// The pencil λ·E − A on one merged pattern, factored at one complex λ after another.
class PencilLu {
  public:
    PencilLu(const Eigen::SparseMatrix<double>& e, const Eigen::SparseMatrix<double>& a);
    ~PencilLu();
    PencilLu(const PencilLu&) = delete;
    PencilLu& operator=(const PencilLu&) = delete;

    /// Other values of the same pattern: the ordering and the pivots are kept. False, with nothing changed,
    /// where the pattern differs.
    bool set(const Eigen::SparseMatrix<double>& e, const Eigen::SparseMatrix<double>& a);
    /// Factors λ·E − A; keeps the pivots of an earlier factorisation while they are good. False where it is
    /// singular.
    bool factor(std::complex<double> lambda);
    /// x ← (λE − A)⁻¹·x, and with the conjugate transpose.
    void solve(Eigen::VectorXcd& x);
    void solve_adjoint(Eigen::VectorXcd& x);
    /// ln det(λE − A): real part ln|det|, imaginary part the argument in (−π, π].
    std::complex<double> log_determinant() const;
    int size() const { return n_; }
    long entries_in_factors() const;

    /// What an elimination does, column by column in the order of elimination, without its numbers: rows
    /// count in that order.
    struct Plan {
        struct Entry {
            int row;
            double e, a;
        };
        std::vector<int> entry_starts, upper_starts, lower_starts;  // per column, and the end
        std::vector<Entry> entries;     // of the column, within its diagonal block
        std::vector<int> upper, lower;  // rows above (ascending) and below the diagonal
        bool odd = false;               // row and column exchanges together change the sign
    };
    /// Of the last factorisation; holds for other λ while its pivots serve there, and until set().
    Plan plan() const;

  private:
    struct Merged {
        std::vector<int> starts, rows;
        std::vector<double> e, a;
    };
    static Merged merge(const Eigen::SparseMatrix<double>& e, const Eigen::SparseMatrix<double>& a);

    int n_;
    Merged pencil_;
    std::vector<double> values_;  // real and imaginary parts in turn
    klu_common common_{};
    klu_symbolic* symbolic_ = nullptr;
    klu_numeric* numeric_ = nullptr;
};

/// Factors at λ·(1 + distance), or farther away where that is an eigenvalue, too. Throws NumericalError.
void factor_beside(PencilLu& lu, std::complex<double> lambda, double distance);

}  // namespace ringquell::internal
