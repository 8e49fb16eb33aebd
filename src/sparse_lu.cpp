#include "sparse_lu.h"

#include <cmath>
#include <numbers>

namespace ringquell {

PencilLu::Merged PencilLu::merge(const Eigen::SparseMatrix<double>& e, const Eigen::SparseMatrix<double>& a) {
    // The union of both patterns, column by column.
    Merged out;
    out.starts.push_back(0);
    for (int j = 0; j < e.cols(); ++j) {
        Eigen::SparseMatrix<double>::InnerIterator ie(e, j), ia(a, j);
        while (ie || ia) {
            const bool take_e = ie && (!ia || ie.row() <= ia.row());
            const bool take_a = ia && (!ie || ia.row() <= ie.row());
            out.rows.push_back(static_cast<int>(take_e ? ie.row() : ia.row()));
            out.e.push_back(take_e ? ie.value() : 0);
            out.a.push_back(take_a ? ia.value() : 0);
            if (take_e) ++ie;
            if (take_a) ++ia;
        }
        out.starts.push_back(static_cast<int>(out.rows.size()));
    }
    return out;
}

PencilLu::PencilLu(const Eigen::SparseMatrix<double>& e, const Eigen::SparseMatrix<double>& a)
    : n_(static_cast<int>(e.rows())), pencil_(merge(e, a)) {
    values_.resize(2 * pencil_.rows.size());
    klu_defaults(&common_);
    symbolic_ = klu_analyze(n_, pencil_.starts.data(), pencil_.rows.data(), &common_);
}

bool PencilLu::set(const Eigen::SparseMatrix<double>& e, const Eigen::SparseMatrix<double>& a) {
    Merged other = merge(e, a);
    if (other.starts != pencil_.starts || other.rows != pencil_.rows) return false;
    pencil_ = std::move(other);
    return true;
}

PencilLu::~PencilLu() {
    if (numeric_ != nullptr) klu_z_free_numeric(&numeric_, &common_);
    if (symbolic_ != nullptr) klu_free_symbolic(&symbolic_, &common_);
}

bool PencilLu::factor(std::complex<double> lambda) {
    if (symbolic_ == nullptr) return false;
    int* starts = pencil_.starts.data();
    int* rows = pencil_.rows.data();
    for (size_t k = 0; k < pencil_.rows.size(); ++k) {
        values_[2 * k] = lambda.real() * pencil_.e[k] - pencil_.a[k];
        values_[2 * k + 1] = lambda.imag() * pencil_.e[k];
    }
    if (numeric_ != nullptr) {
        // The old pivots serve while no column's growth says otherwise.
        constexpr double enough = 1e-6;
        if (klu_z_refactor(starts, rows, values_.data(), symbolic_, numeric_, &common_) != 0 &&
            common_.status == KLU_OK &&
            klu_z_rgrowth(starts, rows, values_.data(), symbolic_, numeric_, &common_) != 0 &&
            common_.rgrowth > enough)
            return true;
        klu_z_free_numeric(&numeric_, &common_);
    }
    numeric_ = klu_z_factor(starts, rows, values_.data(), symbolic_, &common_);
    return numeric_ != nullptr && common_.status == KLU_OK;
}

void PencilLu::solve(Eigen::VectorXcd& x) {
    klu_z_solve(symbolic_, numeric_, n_, 1, reinterpret_cast<double*>(x.data()), &common_);
}

void PencilLu::solve_adjoint(Eigen::VectorXcd& x) {
    klu_z_tsolve(symbolic_, numeric_, n_, 1, reinterpret_cast<double*>(x.data()), 1, &common_);
}

std::complex<double> PencilLu::log_determinant() const {
    const auto* diagonal = static_cast<const std::complex<double>*>(numeric_->Udiag);
    double magnitude = 0, phase = 0;
    // A running product, taken into the logarithm before it leaves the range of doubles: one logarithm for
    // many pivots.
    std::complex<double> product = 1;
    const auto take = [&] {
        magnitude += std::log(std::abs(product));
        phase += std::arg(product);
        product = 1;
    };
    constexpr double large = 1e100;
    for (int i = 0; i < n_; ++i) {
        product *= diagonal[i];
        if (numeric_->Rs != nullptr) product *= numeric_->Rs[i];
        const double size = std::abs(product.real()) + std::abs(product.imag());
        if (!(size < large && size > 1 / large)) take();
    }
    take();
    // The sign of both permutations, cycle by cycle.
    const auto is_odd = [n = n_](const int* permutation) {
        std::vector<bool> seen(static_cast<size_t>(n), false);
        bool odd = false;
        for (int i = 0; i < n; ++i) {
            int length = 0;
            for (int j = i; !seen[static_cast<size_t>(j)]; j = permutation[j], ++length)
                seen[static_cast<size_t>(j)] = true;
            if (length > 0 && length % 2 == 0) odd = !odd;
        }
        return odd;
    };
    if (is_odd(numeric_->Pnum) != is_odd(symbolic_->Q)) phase += std::numbers::pi;
    return {magnitude, std::remainder(phase, 2 * std::numbers::pi)};
}

long PencilLu::entries_in_factors() const {
    return static_cast<long>(numeric_->lnz) + numeric_->unz;
}

}  // namespace ringquell
