#include "numerics/sparse_lu.h"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

/// The sign of a permutation, cycle by cycle.
bool is_odd(const int* permutation, int n) {
    std::vector<bool> seen(static_cast<size_t>(n), false);
    bool odd = false;
    for (int i = 0; i < n; ++i) {
        int length = 0;
        for (int j = i; !seen[static_cast<size_t>(j)]; j = permutation[j], ++length)
            seen[static_cast<size_t>(j)] = true;
        if (length > 0 && length % 2 == 0) odd = !odd;
    }
    return odd;
}

}  // namespace

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
    common_.ordering =
        1;  // by columns: at low λ pivots leave the diagonal, and an order of A + Aᵀ then fills in
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
    if (is_odd(numeric_->Pnum, n_) != is_odd(symbolic_->Q, n_)) phase += std::numbers::pi;
    return {magnitude, std::remainder(phase, 2 * std::numbers::pi)};
}

PencilLu::Plan PencilLu::plan() const {
    const auto n = static_cast<size_t>(n_);
    const auto size = [](int count) { return static_cast<size_t>(std::max(count, 1)); };
    std::vector<int> lp(n + 1), up(n + 1), fp(n + 1), p(n), q(n),
        blocks(static_cast<size_t>(symbolic_->nblocks) + 1);
    std::vector<int> li(size(numeric_->lnz)), ui(size(numeric_->unz)), fi(size(numeric_->nzoff));
    std::vector<double> lx(li.size()), lz(li.size()), ux(ui.size()), uz(ui.size()), fx(fi.size()),
        fz(fi.size()), rs(n);
    klu_common common = common_;
    klu_z_extract(numeric_, symbolic_, lp.data(), li.data(), lx.data(), lz.data(), up.data(), ui.data(),
                  ux.data(), uz.data(), fp.data(), fi.data(), fx.data(), fz.data(), p.data(), q.data(),
                  rs.data(), blocks.data(), &common);
    std::vector<int> place(n);  // of a row
    for (size_t i = 0; i < n; ++i) place[static_cast<size_t>(p[i])] = static_cast<int>(i);
    Plan out;
    out.odd = is_odd(p.data(), n_) != is_odd(q.data(), n_);
    size_t block = 0;
    for (int j = 0; j < n_; ++j) {
        const auto c = static_cast<size_t>(j), column = static_cast<size_t>(q[c]);
        while (j >= blocks[block + 1]) ++block;
        out.entry_starts.push_back(static_cast<int>(out.entries.size()));
        out.upper_starts.push_back(static_cast<int>(out.upper.size()));
        out.lower_starts.push_back(static_cast<int>(out.lower.size()));
        for (int k = pencil_.starts[column]; k < pencil_.starts[column + 1]; ++k) {
            const int row = place[static_cast<size_t>(pencil_.rows[static_cast<size_t>(k)])];
            if (row >= blocks[block])
                out.entries.push_back(
                    {row, pencil_.e[static_cast<size_t>(k)], pencil_.a[static_cast<size_t>(k)]});
        }
        for (int k = up[c]; k < up[c + 1]; ++k)
            if (ui[static_cast<size_t>(k)] != j) out.upper.push_back(ui[static_cast<size_t>(k)]);
        std::sort(out.upper.begin() + out.upper_starts.back(), out.upper.end());
        for (int k = lp[c]; k < lp[c + 1]; ++k)
            if (li[static_cast<size_t>(k)] != j) out.lower.push_back(li[static_cast<size_t>(k)]);
    }
    out.entry_starts.push_back(static_cast<int>(out.entries.size()));
    out.upper_starts.push_back(static_cast<int>(out.upper.size()));
    out.lower_starts.push_back(static_cast<int>(out.lower.size()));
    return out;
}

long PencilLu::entries_in_factors() const {
    return static_cast<long>(numeric_->lnz) + numeric_->unz;
}

void factor_beside(PencilLu& lu, std::complex<double> lambda, double distance) {
    if (!lu.factor(lambda * (1 + distance)) && !lu.factor(lambda * (1 + 1e3 * distance)))
        throw NumericalError("the pencil is singular in the neighbourhood of an eigenvalue");
}

}  // namespace ringquell::internal
