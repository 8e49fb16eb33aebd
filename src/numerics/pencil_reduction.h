// Exact reduction of a pencil λ·E·x = A·x to its finite, non-zero part, on traced numbers.
//
// Every network's E is singular: node groups without capacitance have no row in it, star points of inductors
// and loops of capacitors bind the rest. Two moves, each leaving the pencil equivalent, remove that part (M
// is the matrix whose zero rows and columns are removed, K the other):
//   * M has a zero row p: K_p·x = 0 gives x_q by the others; x_q is substituted everywhere;
//   * M has a zero column q: row p, in which x_q stands, says what x_q is; it is cleared from the other rows.
// With M = E the infinite eigenvalues go, with M = A those that are zero by structure (trapped charge, closed
// inductor loops). Where M is singular without a zero row or column, row operations make one. All decisions
// that a number is zero are exact (tape.h), so the count of states needs no tolerance and depends on gm as it
// should.
#pragma once

#include <complex>
#include <map>
#include <string>
#include <vector>

#include "numerics/tape.h"

namespace ringquell::internal {

struct TracedPencil {
    using Row = std::map<int, Traced>;
    std::vector<Row> e, a;
    explicit TracedPencil(int n) : e(static_cast<size_t>(n)), a(static_cast<size_t>(n)) {}
    /// Adds sign·value, sign being ±1.
    static void add(Tape& tape, Row& row, int column, const Traced& value, double sign);
};

/// One eliminated unknown: x_q = (μ·M_p·x − K_p·x)/pivot with μ = λ, or 1/λ where the roles were swapped.
struct EliminationStep {
    int q;
    bool swapped;
    std::vector<std::pair<int, int>> m, k;  // (unknown, slot)
    int pivot;                              // slot
};

struct ReducedEntry {
    int row, column, slot;
};

/// A pencil of what is left: `kept` unknowns, entries numbered 0 … kept.size() − 1.
struct ReducedPencil {
    std::vector<int> kept;
    std::vector<ReducedEntry> e, a;
};

struct PencilReduction {
    Tape tape;
    ReducedPencil finite;   // all finite eigenvalues; E nonsingular
    ReducedPencil nonzero;  // without structural zeros, too; E and A nonsingular
    std::vector<EliminationStep> steps;
    int unknowns = 0;
    int structural_zeros = 0;

    /// Fills in the eliminated unknowns of an eigenvector; x has `unknowns` entries, those of nonzero.kept
    /// given.
    void recover(const double* values, std::complex<double> lambda, std::complex<double>* x) const;
};

/// Reduces. Throws InputError where the pencil is singular, with the unknown that nothing determines
/// (`names`).
PencilReduction reduce(Tape tape, TracedPencil pencil, const std::vector<std::string>& names);

}  // namespace ringquell::internal
