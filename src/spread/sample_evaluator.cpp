#include "spread/sample_evaluator.h"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <complex>
#include <numeric>

#include "numerics/random_numbers.h"
#include "ringquell/gain_margin.h"
#include "ringquell/operating_path.h"

namespace ringquell::internal {

namespace {

/// From so many positions on the dense whole network costs more than shift-invert (modes.cpp), so that
/// nothing is recorded.
constexpr int too_many_positions = 128;
/// As modes.cpp: a pair this close to the real axis is two real eigenvalues that rounding joined.
constexpr double real_pair = 1e-6;

SampleOutcome judged_by(const Case& sample, const SampleJudge& judge,
                        const std::function<bool(const OperatingPoint&)>& judges) {
    SampleOutcome out;
    out.on_reference_path = true;
    try {
        const OperatingPath path = operating_path(sample);
        ModeSolver solver(sample);
        std::vector<size_t> done;
        for (size_t i = 0; i < path.points.size(); ++i) {
            const OperatingPoint& point = path.points[i];
            if (!judges(point) || std::any_of(done.begin(), done.end(),
                                              [&](size_t k) { return same_network(path.points[k], point); }))
                continue;
            done.push_back(i);
            for (const Mode& mode : solver.solve(point).modes) judge.add(mode, static_cast<int>(i), out);
            if (const auto& gain = judge.require().gain_margin; gain && !out.grows_with_gain)
                out.grows_with_gain = grows_with_gain(solver, point, *gain).has_value();
        }
    } catch (const InputError& error) {
        out.status = SampleOutcome::Status::no_point;
        out.reason = error.what();
    } catch (const NumericalError& error) {
        out.status = SampleOutcome::Status::not_trusted;
        out.reason = error.what();
    }
    judge.finish(out);
    return out;
}

/// A sample that stands for all others where a structure is recorded: every number that varies away from its
/// nominal value, and no two alike that may differ.
void set_recording_values(const SampleSpace& space, SampledCase& sampled, double strength) {
    std::vector<double> u(space.draws().size());
    for (size_t k = 0; k < u.size(); ++k)
        u[k] = 0.5 + strength * (uniform_number({0x7ecu, 0, 0, space.draws()[k].stream,
                                                 static_cast<std::uint32_t>(space.draws()[k].position)}) -
                                 0.5);
    sampled.set(u.data());
}

}  // namespace

SampleOutcome judge_sample(const Case& sample) {
    return judged_by(sample, SampleJudge(sample.require, sample.n()),
                     [](const OperatingPoint& point) { return point.judged; });
}

SampleEvaluator::SampleEvaluator(const SampleSpace& space, std::optional<Edge> only, bool fast)
    : space_(space), only_(only), judge_(space.input().require, space.input().n()), limits_(space.input()) {
    // What is asked of the gain needs every mode's vector, or every point twice.
    const Requirement& require = space.input().require;
    const bool simple = require.passive_damping || require.gain_margin;
    if (fast && !simple && space.input().n() < too_many_positions) record();
}

void SampleEvaluator::record() {
    SampledCase sampled(space_);
    OperatingPath path;
    constexpr double strength = 0.05;
    set_recording_values(space_, sampled, strength);
    try {
        path = operating_path(sampled.input());
    } catch (const InputError&) {
        return;  // the simple path says what is wrong
    }
    try {
        rank_points(sampled.input(), path);
    } catch (const InputError&) {
    } catch (const NumericalError&) {
    }
    std::vector<size_t> hardest_first(path.points.size());
    std::iota(hardest_first.begin(), hardest_first.end(), size_t{0});
    std::sort(hardest_first.begin(), hardest_first.end(),
              [this](size_t a, size_t b) { return rank(static_cast<int>(a)) < rank(static_cast<int>(b)); });
    std::vector<ValueMap> maps;
    std::vector<double> values;
    const auto positions = static_cast<size_t>(space_.input().n());
    for (const size_t index : hardest_first) {
        const OperatingPoint& original = path.points[index];
        if (!judges(original)) continue;
        OperatingPoint point = original;
        // What a device has elsewhere on the path it may have here in another sample; not at the threshold,
        // where no device of any sample has a gain.
        if (point.devices.size() < positions) point.devices.resize(positions, point.devices.front());
        for (size_t k = 0; k < positions && !all_off(point); ++k)
            for (const auto field : {&DieValues::transconductance_s, &DieValues::output_conductance_s})
                for (const auto die : {&DeviceValues::mosfet, &DeviceValues::jfet})
                    for (const OperatingPoint& other : path.points)
                        if (point.devices[k].*die.*field == 0)
                            point.devices[k].*die.*field = other.device(static_cast<int>(k)).*die.*field;
        try {
            bool known = false;
            for (size_t m = 0; m < maps.size() && !known; ++m) {
                values.resize(structures_[m].network.elements.size());
                known = maps[m].evaluate(point, values.data());
            }
            if (known) continue;
            Structure structure;
            structure.network = build_network(sampled.input(), point);
            auto map = ValueMap::make(structure.network, sampled.input(), point);
            if (!map) continue;
            structure.program = packed_program(structure.network, space_.input().n());
            structure.point = point;
            if (structure.program.states == 0) continue;
            maps.push_back(std::move(*map));
            structures_.push_back(std::move(structure));
        } catch (const InputError&) {
        } catch (const NumericalError&) {
        }
    }
}

void SampleEvaluator::rank_points(const Case& sample, const OperatingPath& path) {
    std::vector<std::pair<double, int>> order;
    ModeSolver solver(sample);
    for (size_t i = 0; i < path.points.size(); ++i) {
        double least = 1;
        if (judges(path.points[i]))
            for (const Mode& m : solver.solve(path.points[i]).modes)
                if (m.kind == ModeKind::differential &&
                    (grows(m) || (m.oscillates() && in_band(m, judge_.require()))))
                    least = std::min(least, m.damping_ratio());
        order.emplace_back(least, static_cast<int>(i));
    }
    std::stable_sort(order.begin(), order.end());
    rank_.assign(order.size(), 0);
    for (size_t k = 0; k < order.size(); ++k)
        rank_[static_cast<size_t>(order[k].second)] = static_cast<int>(k);
}

SampleWorker::SampleWorker(const SampleEvaluator& evaluator)
    : evaluator_(evaluator), sampled_(evaluator.space()) {
    constexpr double strength = 0.05;
    set_recording_values(evaluator.space(), sampled_, strength);
    sampled_.remember_zeros();
    size_t most = 0;
    for (const auto& structure : evaluator.structures()) {
        maps_.push_back(ValueMap::make(structure.network, sampled_.input(), structure.point));
        solvers_.emplace_back(structure.program.states);
        solvers_.back().balance = false;  // natural units balance well enough (docs/spread.md)
        most = std::max(most, structure.network.elements.size());
    }
    jobs_.resize(maps_.size());
    scratch_.resize(most);
}

void SampleWorker::queue(int sample, const OperatingPath& path, SampleOutcome& out) {
    struct Done {
        size_t point;
    };
    std::array<size_t, 16> done{};
    size_t count = 0;
    for (size_t i = 0; i < path.points.size(); ++i) {
        const OperatingPoint& point = path.points[i];
        if (!evaluator_.judges(point)) continue;
        // A walk with fixed values has few different points; one with curves has none alike, so a short
        // memory is enough.
        const auto seen = [&](size_t k) { return same_network(path.points[k], point); };
        if (std::any_of(done.begin(), done.begin() + static_cast<long>(std::min(count, done.size())), seen))
            continue;
        done[count++ % done.size()] = i;
        bool placed = false;
        for (size_t s = 0; s < maps_.size() && !placed; ++s) {
            if (!maps_[s] || !maps_[s]->evaluate(point, scratch_.data())) continue;
            const size_t elements = static_cast<size_t>(evaluator_.structures()[s].program.elements);
            jobs_[s].push_back({sample, static_cast<int>(i), values_.size()});
            values_.insert(values_.end(), scratch_.begin(), scratch_.begin() + static_cast<long>(elements));
            placed = true;
        }
        if (!placed) {
            left_[static_cast<size_t>(sample)] = 1;
            return;
        }
    }
    (void)out;
}

void SampleWorker::evaluate(int count, const Source& source, std::vector<double>& uniforms,
                            std::vector<SampleOutcome>& out) {
    const size_t draws = evaluator_.space().draws().size();
    uniforms.resize(static_cast<size_t>(count) * draws);
    out.assign(static_cast<size_t>(count), {});
    left_.assign(static_cast<size_t>(count), 0);
    values_.clear();
    for (auto& jobs : jobs_) jobs.clear();
    for (int k = 0; k < count; ++k) {
        double* u = uniforms.data() + static_cast<size_t>(k) * draws;
        SampleOutcome& outcome = out[static_cast<size_t>(k)];
        for (std::uint32_t attempt = 0;; ++attempt) {
            outcome.attempts = attempt + 1;
            const bool drawn = attempt < most_attempts && source(k, attempt, u);
            if (drawn) sampled_.set(u);
            if (drawn && !evaluator_.limits().possible(sampled_.input())) continue;
            if (!drawn) {
                outcome.status = SampleOutcome::Status::no_point;
                outcome.reason = "the couplings are not possible together";
            }
            break;
        }
        if (outcome.status != SampleOutcome::Status::judged) continue;
        if (maps_.empty() || !sampled_.same_zeros()) {
            left_[static_cast<size_t>(k)] = 1;
            continue;
        }
        try {
            queue(k, operating_path(sampled_.input()), outcome);
        } catch (const InputError& error) {
            outcome.status = SampleOutcome::Status::no_point;
            outcome.reason = error.what();
            left_[static_cast<size_t>(k)] = 2;  // drop what was queued
        }
    }
    for (size_t s = 0; s < jobs_.size(); ++s) solve(s, out);
    for (int k = 0; k < count; ++k) {
        SampleOutcome& outcome = out[static_cast<size_t>(k)];
        if (left_[static_cast<size_t>(k)] == 1) {
            sampled_.set(uniforms.data() + static_cast<size_t>(k) * draws);
            const std::uint32_t attempts = outcome.attempts;
            outcome = judged_by(sampled_.input(), evaluator_.judge(),
                                [&](const OperatingPoint& point) { return evaluator_.judges(point); });
            outcome.attempts = attempts;
        } else {
            evaluator_.judge().finish(outcome);
        }
    }
}

void SampleWorker::solve(size_t structure, std::vector<SampleOutcome>& out) {
    auto& jobs = jobs_[structure];
    // One point of eight samples at a time: such matrices are most alike.
    std::stable_sort(jobs.begin(), jobs.end(), [this](const Job& a, const Job& b) {
        return evaluator_.rank(a.point) < evaluator_.rank(b.point);
    });
    std::array<Job, pack_lanes> some{};
    int filled = 0;
    for (const Job& job : jobs) {
        if (left_[static_cast<size_t>(job.sample)] != 0) continue;
        some[static_cast<size_t>(filled++)] = job;
        if (filled == pack_lanes) {
            judge_pack(structure, some.data(), filled, out);
            filled = 0;
        }
    }
    if (filled > 0) judge_pack(structure, some.data(), filled, out);
}

struct SampleWorker::Lane {
    std::vector<std::complex<double>> candidates;  // least damped first
    std::vector<std::complex<double>> upper;       // all eigenvalues with Im λ >= 0
    size_t next = 0;

    /// Where two eigenvalues nearly coincide, one vector says nothing of their kinds.
    bool kinds_unclear() const {
        constexpr double apart = 1e-7;
        return std::any_of(candidates.begin(), candidates.end(), [this](const std::complex<double>& c) {
            return std::count_if(upper.begin(), upper.end(), [&c](const std::complex<double>& other) {
                       return std::norm(other - c) <= apart * apart * std::norm(c);
                   }) > 1;
        });
    }
};

void SampleWorker::judge_pack(size_t s, const Job* jobs, int count, std::vector<SampleOutcome>& out) {
    const PackedProgram& program = evaluator_.structures()[s].program;
    const SampleJudge& judge = evaluator_.judge();
    const auto n = static_cast<size_t>(program.states);
    constexpr auto lanes = static_cast<size_t>(pack_lanes);
    double* numbers = numbers_.resize(static_cast<size_t>(program.places) * lanes);
    double* matrix = matrix_.resize(n * n * lanes);
    double* real = eigenvalues_.resize((2 * n + 6) * lanes);
    double* imag = real + n * lanes;
    for (size_t k = 0; k < lanes; ++k) {
        // Lanes that are not wanted repeat the first.
        const double* values = values_.data() + jobs[k < static_cast<size_t>(count) ? k : 0].values;
        for (size_t i = 0; i < static_cast<size_t>(program.elements); ++i) numbers[i * lanes + k] = values[i];
    }
    run_packed(program, numbers);
    std::fill(matrix, matrix + n * n * lanes, 0.0);
    for (const auto& entry : program.matrix)
        std::copy_n(
            numbers + static_cast<size_t>(entry.place) * lanes, lanes,
            matrix + (static_cast<size_t>(entry.row) + n * static_cast<size_t>(entry.column)) * lanes);
    std::array<bool, lanes> good{};
    good.fill(true);
    for (size_t d = 0; d < program.divisors.size(); ++d) {
        constexpr double shrunk = 1e-6;  // a pivot that small against where it was chosen is no longer one
        const double* divisor = numbers + static_cast<size_t>(program.divisors[d]) * lanes;
        for (size_t k = 0; k < lanes; ++k)
            good[k] = good[k] && std::abs(divisor[k]) > shrunk * program.divisor_size[d];
    }
    const auto status = solvers_[s].solve(matrix, real, imag);
    std::array<Lane, lanes> lane;
    for (size_t k = 0; k < static_cast<size_t>(count); ++k) {
        const auto sample = static_cast<size_t>(jobs[k].sample);
        good[k] = good[k] && status[k] == LaneStatus::converged;
        const bool vanished = good[k] && maps_[s]->gain_vanished(values_.data() + jobs[k].values);
        double least = std::numeric_limits<double>::infinity(), largest = 0;
        SampleOutcome& outcome = out[sample];
        std::vector<std::complex<double>>& upper = lane[k].upper;
        for (size_t i = 0; good[k] && i < n; ++i) {
            std::complex<double> lambda(real[i * lanes + k], imag[i * lanes + k]);
            if (lambda.imag() < 0) continue;  // its conjugate stands beside it
            const double size = std::sqrt(std::norm(lambda));
            least = std::min(least, size);
            largest = std::max(largest, size);
            if (lambda.imag() <= real_pair * size) lambda.imag(0);
            upper.push_back(lambda);
            // Damped better than what was found already: of no interest, whatever it is.
            if (!judge.alone() && -lambda.real() > judge.of_interest(outcome) * size) continue;
            const Mode mode{lambda * natural, ModeKind::common, 1, 1};
            // A real eigenvalue so small that rounding decides its sign is the simple path's.
            constexpr double rounding = 1e-12;
            if (grows(mode) && !mode.oscillates() && size < rounding * largest) good[k] = false;
            if (!grows(mode) && !(mode.oscillates() && in_band(mode, judge.require()))) continue;
            if (judge.alone())
                judge.add(mode, jobs[k].point, outcome);
            else
                lane[k].candidates.push_back(lambda);
        }
        constexpr double structural = 1e-11;
        if (vanished && least < structural * largest) good[k] = false;
        if (good[k] && lane[k].kinds_unclear()) good[k] = false;
        if (!good[k]) {
            left_[sample] = 1;
            lane[k].candidates.clear();
            continue;
        }
        std::sort(lane[k].candidates.begin(), lane[k].candidates.end(),
                  [](auto a, auto b) { return a.real() * std::abs(b) > b.real() * std::abs(a); });
    }
    // Kinds, a candidate of every lane at a time, as long as one matters.
    double *lambda_real = real + 2 * n * lanes, *lambda_imag = lambda_real + lanes,
           *share = lambda_imag + lanes, *residual = share + lanes;
    while (true) {
        bool any = false;
        std::array<bool, lanes> wanted{};
        std::complex<double> spare;
        for (size_t k = 0; k < static_cast<size_t>(count); ++k) {
            Lane& l = lane[k];
            if (l.next >= l.candidates.size() || left_[static_cast<size_t>(jobs[k].sample)] != 0) continue;
            const Mode mode{l.candidates[l.next] * natural, ModeKind::common, 1, 1};
            SampleOutcome& so_far = out[static_cast<size_t>(jobs[k].sample)];
            if (mode.damping_ratio() > judge.of_interest(so_far)) {
                so_far.grows = so_far.grows || grows(mode);  // whatever its kind
                continue;
            }
            wanted[k] = any = true;
            spare = l.candidates[l.next];
        }
        if (!any) return;
        for (size_t k = 0; k < lanes; ++k) {
            const std::complex<double> lambda = wanted[k] ? lane[k].candidates[lane[k].next] : spare;
            lambda_real[k] = lambda.real();
            lambda_imag[k] = lambda.imag();
        }
        shares_.compute(program, numbers, matrix, lambda_real, lambda_imag, share, residual);
        for (size_t k = 0; k < static_cast<size_t>(count); ++k) {
            if (!wanted[k]) continue;
            const auto sample = static_cast<size_t>(jobs[k].sample);
            constexpr double clear = 1e-6, small = 1e-9;
            if (!(residual[k] <= small) || !(std::abs(share[k] - 0.5) > clear)) {
                left_[sample] = 1;
                continue;
            }
            const ModeKind kind = share[k] < 0.5 ? ModeKind::differential : ModeKind::common;
            judge.add({lane[k].candidates[lane[k].next++] * natural, kind, share[k], 1}, jobs[k].point,
                      out[sample]);
        }
    }
}

}  // namespace ringquell::internal
