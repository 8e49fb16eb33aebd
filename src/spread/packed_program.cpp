#include "spread/packed_program.h"

#include <algorithm>
#include <cmath>
#include <map>
#include <memory>
#include <set>

#include "modes/common_share.h"
#include "numerics/modular.h"
#include "numerics/pencil_reduction.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

using Row = std::map<int, Traced>;

/// E·X = A by elimination with sparse rows, recorded on the tape.
class SparseSolution {
  public:
    SparseSolution(Tape& tape, std::vector<Row> e, std::vector<Row> a)
        : tape_(tape), e_(std::move(e)), a_(std::move(a)), row_size_(e_.size(), 0.0) {
        for (size_t i = 0; i < e_.size(); ++i) {
            rows_.insert(static_cast<int>(i));
            for (const auto& [j, v] : e_[i]) row_size_[i] = std::max(row_size_[i], std::abs(v.value));
        }
    }

    /// Rows of X by unknown.
    std::vector<Row> solve() {
        while (!rows_.empty()) eliminate(best_pivot());
        std::vector<Row> x(e_.size());
        for (auto it = pivots_.rbegin(); it != pivots_.rend(); ++it) {
            const Row& row = e_[static_cast<size_t>(it->row)];
            Row right = a_[static_cast<size_t>(it->row)];
            for (const auto& [j, v] : row)
                if (j != it->column) subtract(right, v, x[static_cast<size_t>(j)], -1);
            const Traced pivot = row.at(it->column);
            for (auto& [j, v] : right) v = tape_.divide(v, pivot);
            x[static_cast<size_t>(it->column)] = std::move(right);
        }
        return x;
    }

  private:
    struct Pivot {
        int row, column;
    };

    double relative_size(int row, const Traced& number) const {
        return std::abs(number.value) / row_size_[static_cast<size_t>(row)];
    }

    /// The one that fills in least, of those that are not small in their column; of equals the largest.
    Pivot best_pivot() const {
        std::vector<double> largest(e_.size(), 0.0);
        std::vector<int> count(e_.size(), 0);
        for (int p : rows_)
            for (const auto& [q, v] : e_[static_cast<size_t>(p)]) {
                double& most = largest[static_cast<size_t>(q)];
                most = std::max(most, relative_size(p, v));
                ++count[static_cast<size_t>(q)];
            }
        constexpr double threshold = 0.1;
        Pivot best{-1, -1};
        double best_cost = 0, best_size = 0;
        for (int p : rows_)
            for (const auto& [q, v] : e_[static_cast<size_t>(p)]) {
                const double size = relative_size(p, v);
                if (v.value == 0 || size < threshold * largest[static_cast<size_t>(q)]) continue;
                const double cost = static_cast<double>(
                    (e_[static_cast<size_t>(p)].size() + a_[static_cast<size_t>(p)].size() - 1) *
                    static_cast<size_t>(count[static_cast<size_t>(q)] - 1));
                if (best.row < 0 || cost < best_cost || (cost == best_cost && size > best_size)) {
                    best = {p, q};
                    best_cost = cost;
                    best_size = size;
                }
            }
        if (best.row < 0) throw NumericalError("the reduced pencil is singular");
        return best;
    }

    void eliminate(const Pivot& at) {
        rows_.erase(at.row);
        pivots_.push_back(at);
        const Row& pivot_row = e_[static_cast<size_t>(at.row)];
        const Traced pivot = pivot_row.at(at.column);
        for (int r : rows_) {
            Row& row = e_[static_cast<size_t>(r)];
            const auto it = row.find(at.column);
            if (it == row.end()) continue;
            const Traced factor = tape_.divide(it->second, pivot);
            row.erase(it);
            subtract(row, factor, pivot_row, at.column);
            subtract(a_[static_cast<size_t>(r)], factor, a_[static_cast<size_t>(at.row)], -1);
        }
    }

    /// target −= factor·source, but in column `skip`.
    void subtract(Row& target, const Traced& factor, const Row& source, int skip) {
        for (const auto& [j, v] : source)
            if (j != skip) {
                auto [it, added] = target.try_emplace(j);
                it->second = tape_.subtract_product(added ? Traced{} : it->second, factor, v);
            }
    }

    Tape& tape_;
    std::vector<Row> e_, a_;
    std::vector<double> row_size_;
    std::set<int> rows_;  // without a pivot as yet
    std::vector<Pivot> pivots_;
};

/// Drops instructions whose results nothing needs and gives every other result a place, one that is free by
/// then.
std::vector<int> compact(const Tape& tape, int inputs, const std::vector<int>& wanted, PackedProgram& out) {
    const auto& code = tape.code();
    std::vector<bool> live(tape.size(), false);
    std::vector<int> last_use(tape.size(), -1);  // instruction
    const int never = static_cast<int>(code.size());
    for (int i = 0; i < inputs; ++i) last_use[static_cast<size_t>(i)] = never;
    for (int i : wanted) {
        live[static_cast<size_t>(i)] = true;
        last_use[static_cast<size_t>(i)] = never;
    }
    for (int i = never - 1; i >= 0; --i) {
        if (!live[static_cast<size_t>(inputs) + static_cast<size_t>(i)]) continue;
        const auto& instruction = code[static_cast<size_t>(i)];
        for (int operand : {instruction.a, instruction.b, instruction.c}) {
            if (operand < 0) continue;
            live[static_cast<size_t>(operand)] = true;
            last_use[static_cast<size_t>(operand)] = std::max(last_use[static_cast<size_t>(operand)], i);
        }
    }
    std::vector<int> place(tape.size(), -1), free;
    for (int i = 0; i < inputs; ++i) place[static_cast<size_t>(i)] = i;
    out.places = inputs;
    for (int i = 0; i < never; ++i) {
        if (!live[static_cast<size_t>(inputs) + static_cast<size_t>(i)]) continue;
        const auto& instruction = code[static_cast<size_t>(i)];
        const auto at = [&](int operand) { return place[static_cast<size_t>(std::max(operand, 0))]; };
        PackedProgram::Instruction packed{instruction.op, -1, at(instruction.a), at(instruction.b),
                                          at(instruction.c)};
        std::set<int> freed;
        for (int operand : {instruction.a, instruction.b, instruction.c})
            if (operand >= 0 && last_use[static_cast<size_t>(operand)] == i) freed.insert(at(operand));
        free.insert(free.end(), freed.begin(), freed.end());
        if (free.empty()) {
            packed.out = out.places++;
        } else {
            packed.out = free.back();
            free.pop_back();
        }
        place[static_cast<size_t>(inputs) + static_cast<size_t>(i)] = packed.out;
        out.code.push_back(packed);
    }
    return place;
}

/// All numbers of a tape at the values of a network.
std::vector<double> run_at(const Tape& tape, const Network& network) {
    std::vector<double> out = Reducer::element_values(network);
    out.push_back(1);
    out.push_back(-1);
    out.resize(tape.size());
    tape.run(out.data());
    return out;
}

/// What the elimination of the algebraic part left, E⁻¹·A, recorded on the tape behind it; rows by unknown.
std::vector<Row> explicit_rows(Tape& tape, const PencilReduction& reduction, const Network& network) {
    const std::vector<double> values = run_at(tape, network);
    const auto rows_of = [&](const std::vector<ReducedEntry>& entries) {
        std::vector<Row> out(reduction.nonzero.kept.size());
        for (const ReducedEntry& entry : entries)
            // A residue of its own for every slot: nothing cancels here that did not before.
            out[static_cast<size_t>(entry.row)][entry.column] = Traced{
                entry.slot, values[static_cast<size_t>(entry.slot)], modular::residue(2.0 + entry.slot)};
        return out;
    };
    return SparseSolution(tape, rows_of(reduction.nonzero.e), rows_of(reduction.nonzero.a)).solve();
}

/// The numbers of the tape that are divided by.
std::set<int> divisors_of(const Tape& tape) {
    std::set<int> out;
    for (const Tape::Instruction& i : tape.code())
        if (i.op == Tape::Op::divide) out.insert(i.b);
    return out;
}

}  // namespace

PackedProgram packed_program(const Network& network, int positions) {
    const Reducer reducer(network);
    const PencilReduction& reduction = reducer.reduction();
    Tape tape = reduction.tape;
    PackedProgram out;
    out.elements = static_cast<int>(network.elements.size());
    out.states = static_cast<int>(reduction.nonzero.kept.size());
    out.unknowns = reduction.unknowns;
    out.slots = network.slots;
    out.positions = positions;
    out.kept = reduction.nonzero.kept;
    const std::vector<Row> x = explicit_rows(tape, reduction, network);

    std::vector<int> wanted;
    for (const Row& row : x)
        for (const auto& [j, v] : row) wanted.push_back(v.slot);
    for (const EliminationStep& step : reduction.steps) {
        for (const auto& [j, slot] : step.m) wanted.push_back(slot);
        for (const auto& [j, slot] : step.k) wanted.push_back(slot);
        wanted.push_back(step.pivot);
    }
    const std::set<int> divisors = divisors_of(tape);
    wanted.insert(wanted.end(), divisors.begin(), divisors.end());
    const std::vector<int> place = compact(tape, tape.inputs(), wanted, out);
    const auto at = [&place](int slot) { return place[static_cast<size_t>(slot)]; };
    for (size_t i = 0; i < x.size(); ++i)
        for (const auto& [j, v] : x[i]) out.matrix.push_back({static_cast<int>(i), j, at(v.slot)});
    const std::vector<double> values = run_at(tape, network);
    for (int slot : divisors) {
        out.divisors.push_back(at(slot));
        out.divisor_size.push_back(std::abs(values[static_cast<size_t>(slot)]));
    }
    for (const EliminationStep& step : reduction.steps) {
        PackedProgram::Step s{step.q, step.swapped, {}, {}, at(step.pivot)};
        for (const auto& [j, slot] : step.m) s.m.emplace_back(j, at(slot));
        for (const auto& [j, slot] : step.k) s.k.emplace_back(j, at(slot));
        out.steps.push_back(std::move(s));
    }
    for_each_amplitude(network, [&out](const EnergyAmplitude& one) {
        if (one.position != 0)
            out.amplitudes.push_back(
                {one.slot, static_cast<int>(one.element), one.scale, one.less, one.less_scale, one.right});
    });
    return out;
}

double* AlignedBuffer::resize(size_t count) {
    constexpr size_t line = 64;
    if (space_.size() < count + line / sizeof(double)) {
        space_.assign(count + line / sizeof(double), 0.0);
        void* start = space_.data();
        std::size_t room = space_.size() * sizeof(double);
        data_ = static_cast<double*>(std::align(line, count * sizeof(double), start, room));
    }
    return data_;
}

}  // namespace ringquell::internal
