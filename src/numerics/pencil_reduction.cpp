#include "numerics/pencil_reduction.h"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>

#include "numerics/modular.h"
#include "ringquell/error.h"

namespace ringquell::internal {

void TracedPencil::add(Tape& tape, Row& row, int column, const Traced& value, double sign) {
    if (value.is_zero()) return;
    auto [it, added] = row.try_emplace(column, value);
    if (added) {
        if (sign < 0) it->second = tape.negative(value);
        return;
    }
    const Traced signed_value = sign < 0 ? tape.negative(value) : value;
    it->second = tape.add(it->second, signed_value);
    if (it->second.is_zero()) row.erase(it);
}

namespace {

// A pivot below these shares of the largest number in its row is not taken: the first where the column is
// algebraic, too (M has nothing there), which keeps the natural states; the second where the choice is free.
constexpr double algebraic_threshold = 1e-4;
constexpr double threshold = 0.1;

/// What is left of a pencil, and how it came to that: what both passes of reduce() work on.
struct Remainder {
    Tape& tape;
    TracedPencil& pencil;
    std::vector<EliminationStep>& steps;
    std::set<int> rows, columns;
};

/// Eliminates what M·x' = K·x holds of algebra, until M is regular. M is E and K is A, or, `swapped`, the other way round.
class Eliminator {
  public:
    Eliminator(Remainder& remainder, bool swapped, const std::vector<std::string>& names)
        : tape_(remainder.tape),
          m_(swapped ? remainder.pencil.a : remainder.pencil.e),
          k_(swapped ? remainder.pencil.e : remainder.pencil.a),
          rows_(remainder.rows),
          columns_(remainder.columns),
          steps_(remainder.steps),
          swapped_(swapped),
          names_(names) {
        m_columns_.resize(names.size());
        k_columns_.resize(names.size());
        for (int p : rows_) {
            for (const auto& [q, v] : m_[static_cast<size_t>(p)])
                m_columns_[static_cast<size_t>(q)].insert(p);
            for (const auto& [q, v] : k_[static_cast<size_t>(p)])
                k_columns_[static_cast<size_t>(q)].insert(p);
        }
    }

    void run() {
        while (true) {
            while (eliminate_zero_row() || eliminate_zero_column()) {
            }
            if (rank_of_m() == rows_.size()) return;
            make_zero_rows();
        }
    }

  private:
    TracedPencil::Row& m(int row) { return m_[static_cast<size_t>(row)]; }
    TracedPencil::Row& k(int row) { return k_[static_cast<size_t>(row)]; }
    std::set<int>& m_column(int q) { return m_columns_[static_cast<size_t>(q)]; }
    std::set<int>& k_column(int q) { return k_columns_[static_cast<size_t>(q)]; }

    /// target −= factor·source, without column `skip`.
    void subtract(TracedPencil::Row& target, std::vector<std::set<int>>& columns, int target_index,
                  const Traced& factor, const TracedPencil::Row& source, int skip) {
        for (const auto& [j, value] : source) {
            if (j == skip) continue;
            auto [it, added] = target.try_emplace(j);
            it->second = tape_.subtract_product(added ? Traced{} : it->second, factor, value);
            if (it->second.is_zero()) {
                target.erase(it);
                columns[static_cast<size_t>(j)].erase(target_index);
            } else if (added) {
                columns[static_cast<size_t>(j)].insert(target_index);
            }
        }
    }

    void eliminate(int p, int q) {
        const Traced pivot = k(p).at(q);
        EliminationStep step{q, swapped_, {}, {}, pivot.slot};
        for (const auto& [j, v] : m(p))
            if (j != q) step.m.emplace_back(j, v.slot);
        for (const auto& [j, v] : k(p))
            if (j != q) step.k.emplace_back(j, v.slot);
        steps_.push_back(std::move(step));
        const bool zero_row = m(p).empty();
        const std::set<int> k_rows = k_column(q), m_rows = m_column(q);
        for (int row : k_rows) {
            if (row == p) continue;
            const Traced factor = tape_.divide(k(row).at(q), pivot);
            k(row).erase(q);
            subtract(k(row), k_columns_, row, factor, k(p), q);
            if (!zero_row) subtract(m(row), m_columns_, row, factor, m(p), q);
        }
        for (int row : m_rows) {
            if (row == p) continue;
            const Traced factor = tape_.divide(m(row).at(q), pivot);
            m(row).erase(q);
            subtract(m(row), m_columns_, row, factor, k(p), q);
        }
        for (const auto& [j, v] : m(p)) m_column(j).erase(p);
        for (const auto& [j, v] : k(p)) k_column(j).erase(p);
        k_column(q).clear();
        m_column(q).clear();
        rows_.erase(p);
        columns_.erase(q);
    }

    [[noreturn]] void singular(int unknown) const {
        throw InputError({}, names_[static_cast<size_t>(unknown)],
                         "nothing in the network determines this quantity; expected a resistance, inductance "
                         "or capacitance that holds it");
    }

    struct Candidate {
        int p = -1, q = -1;
        bool natural = false;
        double cost = 0, size = 0;
        bool better_than(const Candidate& o) const {
            if (o.p < 0) return true;
            if (natural != o.natural) return natural;
            if (cost != o.cost) return cost < o.cost;
            return size > o.size;
        }
    };

    bool eliminate_zero_row() {
        Candidate best;
        for (int p : rows_) {
            if (!m(p).empty()) continue;
            if (k(p).empty()) singular(p);
            double largest = 0;
            for (const auto& [q, v] : k(p)) largest = std::max(largest, std::abs(v.value));
            for (const auto& [q, v] : k(p)) {
                const bool algebraic = m_column(q).empty();
                const double size = std::abs(v.value) / largest;
                if (size < (algebraic ? algebraic_threshold : threshold)) continue;
                const double fill =
                    static_cast<double>((k_column(q).size() + m_column(q).size() - 1) * (k(p).size() - 1));
                const Candidate candidate{p, q, algebraic, fill, size};
                if (candidate.better_than(best)) best = candidate;
            }
        }
        if (best.p < 0) return false;
        eliminate(best.p, best.q);
        return true;
    }

    bool eliminate_zero_column() {
        Candidate best;
        for (int q : columns_) {
            if (!m_column(q).empty()) continue;
            if (k_column(q).empty()) singular(q);
            double largest = 0;
            for (int p : k_column(q)) largest = std::max(largest, std::abs(k(p).at(q).value));
            for (int p : k_column(q)) {
                const double size = std::abs(k(p).at(q).value) / largest;
                if (size < threshold) continue;
                const double fill =
                    static_cast<double>((k_column(q).size() - 1) * (k(p).size() + m(p).size() - 1));
                const Candidate candidate{p, q, true, fill, size};
                if (candidate.better_than(best)) best = candidate;
            }
        }
        if (best.p < 0) return false;
        eliminate(best.p, best.q);
        return true;
    }

    size_t rank_of_m() const {
        std::vector<std::map<int, std::uint64_t>> rows;
        for (int p : rows_) {
            rows.emplace_back();
            for (const auto& [q, v] : m_[static_cast<size_t>(p)]) rows.back()[q] = v.residue;
        }
        size_t rank = 0;
        std::sort(rows.begin(), rows.end(), [](const auto& a, const auto& b) { return a.size() < b.size(); });
        std::map<int, std::map<int, std::uint64_t>> pivots;  // by leading column, scaled to lead with 1
        for (auto& row : rows) {
            while (!row.empty()) {
                const auto [lead, value] = *row.begin();
                const auto pivot = pivots.find(lead);
                if (pivot == pivots.end()) {
                    const std::uint64_t inverse = modular::inverse(value);
                    for (auto& [q, v] : row) v = modular::multiply(v, inverse);
                    pivots.emplace(lead, std::move(row));
                    ++rank;
                    break;
                }
                for (const auto& [q, v] : pivot->second) {
                    auto& target = row[q];
                    target = modular::subtract(target, modular::multiply(value, v));
                    if (target == 0) row.erase(q);
                }
            }
        }
        return rank;
    }

    /// Gaussian elimination of M's rows (the same on K), until the rows that depend on others are zero in M.
    void make_zero_rows() {
        std::set<int> active = rows_;
        while (true) {
            Candidate best;
            for (int p : active) {
                double largest = 0;
                for (const auto& [q, v] : m(p)) largest = std::max(largest, std::abs(v.value));
                for (const auto& [q, v] : m(p)) {
                    const double size = std::abs(v.value) / largest;
                    if (size < threshold) continue;
                    const double fill =
                        static_cast<double>((m_column(q).size() - 1) * (m(p).size() + k(p).size() - 1));
                    const Candidate candidate{p, q, true, fill, size};
                    if (candidate.better_than(best)) best = candidate;
                }
            }
            if (best.p < 0) return;
            const Traced pivot = m(best.p).at(best.q);
            const std::set<int> below = m_column(best.q);
            for (int row : below) {
                if (row == best.p || !active.contains(row)) continue;
                const Traced factor = tape_.divide(m(row).at(best.q), pivot);
                m(row).erase(best.q);
                m_column(best.q).erase(row);
                subtract(m(row), m_columns_, row, factor, m(best.p), best.q);
                subtract(k(row), k_columns_, row, factor, k(best.p), -1);
            }
            active.erase(best.p);
        }
    }

    Tape& tape_;
    std::vector<TracedPencil::Row>& m_;
    std::vector<TracedPencil::Row>& k_;
    std::set<int>& rows_;
    std::set<int>& columns_;
    std::vector<EliminationStep>& steps_;
    bool swapped_;
    const std::vector<std::string>& names_;
    std::vector<std::set<int>> m_columns_, k_columns_;
};

ReducedPencil snapshot(const Remainder& remainder) {
    ReducedPencil out;
    out.kept.assign(remainder.columns.begin(), remainder.columns.end());
    std::map<int, int> number;
    for (int q : out.kept) number[q] = static_cast<int>(number.size());
    int i = 0;
    for (int p : remainder.rows) {
        for (const auto& [q, v] : remainder.pencil.e[static_cast<size_t>(p)])
            out.e.push_back({i, number.at(q), v.slot});
        for (const auto& [q, v] : remainder.pencil.a[static_cast<size_t>(p)])
            out.a.push_back({i, number.at(q), v.slot});
        ++i;
    }
    return out;
}

}  // namespace

PencilReduction reduce(Tape tape, TracedPencil pencil, const std::vector<std::string>& names) {
    PencilReduction out;
    out.tape = std::move(tape);
    out.unknowns = static_cast<int>(names.size());
    Remainder remainder{out.tape, pencil, out.steps, {}, {}};
    for (int i = 0; i < out.unknowns; ++i) {
        remainder.rows.insert(i);
        remainder.columns.insert(i);
    }
    Eliminator(remainder, false, names).run();
    out.finite = snapshot(remainder);
    Eliminator(remainder, true, names).run();
    out.nonzero = snapshot(remainder);
    out.structural_zeros = static_cast<int>(out.finite.kept.size() - out.nonzero.kept.size());
    return out;
}

void PencilReduction::recover(const double* values, std::complex<double> lambda,
                              std::complex<double>* x) const {
    for (auto step = steps.rbegin(); step != steps.rend(); ++step) {
        std::complex<double> k = 0, m = 0;
        for (const auto& [j, slot] : step->k) k += values[slot] * x[j];
        for (const auto& [j, slot] : step->m) m += values[slot] * x[j];
        const std::complex<double> mu = step->m.empty() ? 0.0 : (step->swapped ? 1.0 / lambda : lambda);
        x[step->q] = (mu * m - k) / values[step->pivot];
    }
}

}  // namespace ringquell::internal
