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

/// E·X = A by elimination with sparse rows, recorded on the tape; rows of X by unknown.
std::vector<Row> solved(Tape& tape, std::vector<Row> e, std::vector<Row> a) {
    const auto n = static_cast<int>(e.size());
    std::vector<double> row_size(e.size(), 0.0);
    for (size_t i = 0; i < e.size(); ++i)
        for (const auto& [j, v] : e[i]) row_size[i] = std::max(row_size[i], std::abs(v.value));
    std::set<int> rows;
    for (int i = 0; i < n; ++i) rows.insert(i);
    std::vector<std::pair<int, int>> pivots;
    std::vector<bool> done(e.size(), false);
    const auto subtract = [&tape](Row& target, const Traced& factor, const Row& source, int skip) {
        for (const auto& [j, v] : source)
            if (j != skip) {
                auto [it, added] = target.try_emplace(j);
                it->second = tape.subtract_product(added ? Traced{} : it->second, factor, v);
            }
    };
    for (int step = 0; step < n; ++step) {
        std::vector<double> largest(e.size(), 0.0);
        std::vector<int> count(e.size(), 0);
        for (int p : rows)
            for (const auto& [q, v] : e[static_cast<size_t>(p)]) {
                largest[static_cast<size_t>(q)] = std::max(
                    largest[static_cast<size_t>(q)], std::abs(v.value) / row_size[static_cast<size_t>(p)]);
                ++count[static_cast<size_t>(q)];
            }
        constexpr double threshold = 0.1;
        int best_p = -1, best_q = -1;
        double best_cost = 0, best_size = 0;
        for (int p : rows)
            for (const auto& [q, v] : e[static_cast<size_t>(p)]) {
                const double size = std::abs(v.value) / row_size[static_cast<size_t>(p)];
                if (v.value == 0 || size < threshold * largest[static_cast<size_t>(q)]) continue;
                const double cost = static_cast<double>(
                    (e[static_cast<size_t>(p)].size() + a[static_cast<size_t>(p)].size() - 1) *
                    static_cast<size_t>(count[static_cast<size_t>(q)] - 1));
                if (best_p < 0 || cost < best_cost || (cost == best_cost && size > best_size)) {
                    best_p = p;
                    best_q = q;
                    best_cost = cost;
                    best_size = size;
                }
            }
        if (best_p < 0) throw NumericalError("the reduced pencil is singular");
        rows.erase(best_p);
        pivots.emplace_back(best_p, best_q);
        const Row& pivot_row = e[static_cast<size_t>(best_p)];
        const Traced pivot = pivot_row.at(best_q);
        for (int r : rows) {
            Row& row = e[static_cast<size_t>(r)];
            const auto it = row.find(best_q);
            if (it == row.end()) continue;
            const Traced factor = tape.divide(it->second, pivot);
            row.erase(it);
            subtract(row, factor, pivot_row, best_q);
            subtract(a[static_cast<size_t>(r)], factor, a[static_cast<size_t>(best_p)], -1);
        }
    }
    std::vector<Row> x(e.size());
    for (auto it = pivots.rbegin(); it != pivots.rend(); ++it) {
        const auto [p, q] = *it;
        Row right = a[static_cast<size_t>(p)];
        for (const auto& [j, v] : e[static_cast<size_t>(p)])
            if (j != q) subtract(right, v, x[static_cast<size_t>(j)], -1);
        const Traced pivot = e[static_cast<size_t>(p)].at(q);
        for (auto& [j, v] : right) v = tape.divide(v, pivot);
        x[static_cast<size_t>(q)] = std::move(right);
    }
    return x;
}

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
        if (!live[static_cast<size_t>(inputs + i)]) continue;
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
        if (!live[static_cast<size_t>(inputs + i)]) continue;
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
        place[static_cast<size_t>(inputs + i)] = packed.out;
        out.code.push_back(packed);
    }
    return place;
}

}  // namespace

PackedProgram packed_program(const Network& network, int positions) {
    Reducer reducer(network);
    const PencilReduction& reduction = reducer.reduction();
    Tape tape = reduction.tape;
    std::vector<double> values = Reducer::element_values(network);
    PackedProgram out;
    out.elements = static_cast<int>(values.size());
    out.states = static_cast<int>(reduction.nonzero.kept.size());
    out.unknowns = reduction.unknowns;
    out.slots = network.slots;
    out.positions = positions;
    out.kept = reduction.nonzero.kept;
    values.push_back(1);
    values.push_back(-1);
    values.resize(tape.size());
    tape.run(values.data());
    const auto traced = [&](int slot) {
        // A residue of its own for every slot: nothing cancels here that did not before.
        return Traced{slot, values[static_cast<size_t>(slot)], modular::residue(2.0 + slot)};
    };
    std::vector<Row> e(static_cast<size_t>(out.states)), a = e;
    for (const ReducedEntry& entry : reduction.nonzero.e)
        e[static_cast<size_t>(entry.row)][entry.column] = traced(entry.slot);
    for (const ReducedEntry& entry : reduction.nonzero.a)
        a[static_cast<size_t>(entry.row)][entry.column] = traced(entry.slot);
    const std::vector<Row> x = solved(tape, std::move(e), std::move(a));

    std::vector<int> wanted;
    for (const Row& row : x)
        for (const auto& [j, v] : row) wanted.push_back(v.slot);
    for (const EliminationStep& step : reduction.steps) {
        for (const auto& [j, slot] : step.m) wanted.push_back(slot);
        for (const auto& [j, slot] : step.k) wanted.push_back(slot);
        wanted.push_back(step.pivot);
    }
    std::set<int> divisors;
    for (const Tape::Instruction& i : tape.code())
        if (i.op == Tape::Op::divide) divisors.insert(i.b);
    wanted.insert(wanted.end(), divisors.begin(), divisors.end());
    const std::vector<int> place = compact(tape, tape.inputs(), wanted, out);
    const auto at = [&place](int slot) { return place[static_cast<size_t>(slot)]; };
    for (size_t i = 0; i < x.size(); ++i)
        for (const auto& [j, v] : x[i]) out.matrix.push_back({static_cast<int>(i), j, at(v.slot)});
    values = Reducer::element_values(network);
    values.push_back(1);
    values.push_back(-1);
    values.resize(tape.size());
    tape.run(values.data());
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
