#include "ringquell/calibrate.h"

#include <algorithm>
#include <boost/math/distributions/chi_squared.hpp>
#include <cmath>
#include <limits>
#include <numbers>

#include "bench/posterior.h"
#include "bench/single_changes.h"
#include "case/tolerances.h"
#include "review/calibrate_records.h"
#include "review/calibrated_case.h"
#include "review/next_measurement.h"
#include "ringquell/check.h"
#include "ringquell/numbers.h"
#include "ringquell/ports.h"
#include "ringquell/record_points.h"

namespace ringquell {

using namespace internal;

namespace {

/// Below this a record counts as fitted; above, something is missing; in errors.
constexpr double explains_within = 2, fits_within = 3;
constexpr size_t rows_shown = 12, rows_judged = 6, starts_from_rows = 3;

double greatest(const Eigen::VectorXd& residuals) {
    return residuals.size() == 0 ? 0 : residuals.cwiseAbs().maxCoeff();
}

double root_mean_square(const std::vector<Eigen::VectorXd>& residuals) {
    double sum = 0;
    Eigen::Index count = 0;
    for (const Eigen::VectorXd& r : residuals) {
        sum += r.squaredNorm();
        count += r.size();
    }
    return count == 0 ? 0 : std::sqrt(sum / static_cast<double>(count));
}

/// The impedances that left these residuals.
std::vector<std::complex<double>> computed_impedance(const RecordTarget& target,
                                                     const Eigen::VectorXd& residuals) {
    const auto& port = std::get<PortData>(target.data);
    std::vector<std::complex<double>> out;
    for (size_t k = 0; k < port.impedance_ohm.size(); ++k) {
        const auto row = 2 * static_cast<Eigen::Index>(k);
        const std::complex<double> measured = port.impedance_ohm[k];
        const std::complex<double> off(residuals[row], residuals[row + 1]);
        out.push_back(measured + port.error * std::abs(measured) * off);
    }
    return out;
}

std::optional<double> worst_damping(const CheckResult& result) {
    if (!result.worst_differential) return {};
    return result.worst_differential->mode.damping_ratio();
}

CheckOptions points_alone() {
    CheckOptions options;
    options.size_gate_resistor = false;
    options.follow_modes = false;
    options.gain_margin = false;
    return options;
}

class Calibrator {
  public:
    Calibrator(const Case& input, const BenchFile& bench, const CalibrateOptions& options)
        : input_(with_unknowns(input, bench)), bench_(bench), options_(options), read_(read_records(bench)) {}

    Calibration run() {
        out_.title = input_.title;
        out_.file = input_.file;
        out_.bench_file = bench_.file;
        out_.damping_asked = input_.require.differential_damping;
        for (const CalibratedRecord& r : read_.said) locate_with_nodes(r.record);
        take_modes();
        if (!targets_.empty()) {
            change_one();
            fit();
        }
        for (const CalibratedRecord& r : read_.said) out_.records.push_back(r);
        return std::move(out_);
    }

  private:
    Case with_unknowns(Case input, const BenchFile& bench) {
        if (bench.unknown_given) input.spread = bench.unknown;
        if (bench.unknown_typical) input.spread = typical_spread(input);
        if (input.spread.empty()) {
            input.spread = typical_spread(input);
            out_.remarks.push_back(
                "neither the case nor the bench file says how far its numbers are known: `typical` "
                "tolerances are "
                "taken (docs/spread.md)");
        }
        return input;
    }

    /// Errors of points and nodes, each at its place in the bench file.
    void locate_with_nodes(const BenchRecord& record) const {
        Case own = while_measured(input_, bench_, record);
        const OperatingPoint point = locate(record, own);
        if (!record.from.empty())
            network_with_ports(own, point, {{record.from, record.to}}, record.nodes_place,
                               record.key + (record.probe.empty() ? ".between" : ".probe"));
        else
            build_network(own, point);
    }

    void take_modes();
    void change_one();
    void fit();
    void settle_records(const MapFit& fit);
    void settle_strain(const UnknownCase& board, const MapFit& fit);
    void settle_worst(UnknownCase& board, const MapFit& fit, const CheckResult& after);
    bool explained_alone(size_t target) const;
    std::vector<Eigen::VectorXd> starts(const UnknownCase& board) const;

    Calibration out_;
    Case input_;
    const BenchFile& bench_;
    CalibrateOptions options_;
    ReadRecords read_;
    std::vector<size_t> of_target_;      // index into read_.said
    std::vector<RecordTarget> targets_;  // those that have a model
    SingleChanges changes_;
};

/// Where a measured ring has no mode near, its record is left out of what follows.
void Calibrator::take_modes() {
    UnknownCase board(input_, {});
    const Eigen::VectorXd none(0);
    for (size_t r = 0; r < read_.said.size(); ++r) {
        CalibratedRecord& said = read_.said[r];
        const RecordTarget& target = read_.targets[r];
        RecordModel model(board, target);
        if (const RingData* ring = target.ring()) {
            const std::vector<SeenMode> all = model.every_mode(none);
            if (all.empty()) throw NumericalError("nothing rings where `" + said.record.name + "` was taken");
            const auto off = [&](const SeenMode& m) {
                return std::abs(std::log(m.mode().ringing_frequency_hz() / ring->frequency_hz));
            };
            said.nearest =
                std::min_element(all.begin(), all.end(), [&](const SeenMode& a, const SeenMode& b) {
                    return off(a) < off(b);
                })->mode();
            said.nothing_rings_like_that = model.near(all).empty();
            if (said.nothing_rings_like_that) continue;
            const RecordState state = model.at(none, false);
            said.modes = beside(state.modes, *ring);
            said.two_would_do = state.misfits.size() > 1 &&
                                state.misfits[1] < state.misfits[0] + SingleChangeRow::tells_apart;
        } else {
            const Eigen::VectorXd residuals = model.at(none, false).residuals;
            said.off_before = root_mean_square({residuals});
            const std::vector<std::complex<double>> computed = computed_impedance(target, residuals);
            for (size_t k = 0; k < computed.size(); ++k) said.impedance[k].before_ohm = computed[k];
        }
        of_target_.push_back(r);
        targets_.push_back(target);
    }
}

void Calibrator::change_one() {
    changes_ = single_changes(input_, input_.spread, targets_);
    for (const SingleChange& change : changes_.rows) {
        if (out_.single_changes.size() >= rows_shown) break;
        const MovedAlone& best = change.best;
        SingleChangeRow row;
        row.keys = best.keys;
        row.dimension = best.dimension;
        row.curve = best.curve;
        row.from = best.from;
        row.to = best.to;
        row.tolerances = best.tolerances;
        row.tolerance_given = best.tolerance_given;
        row.misfit = root_mean_square(best.residuals);
        row.score = best.score;
        row.explains = std::all_of(best.residuals.begin(), best.residuals.end(),
                                   [](const Eigen::VectorXd& r) { return greatest(r) <= explains_within; });
        for (const MovedAlone& other : change.others) row.others.push_back(other.keys.front());
        for (size_t r = 0; r < best.modes.size(); ++r) {
            if (targets_[r].ring() == nullptr) continue;
            row.frequency_hz.push_back(best.modes[r].mode().ringing_frequency_hz());
            row.damping_ratio.push_back(best.modes[r].mode().damping_ratio());
        }
        if (out_.single_changes.size() < rows_judged) {
            Case moved = input_;
            for (double* value : varying_number(moved, best.keys.front(), 0).values)
                *value = best.curve || best.from != 0 ? *value * (best.to / best.from) : best.to;
            try {
                row.worst_damping = worst_damping(check(moved, points_alone()));
            } catch (const InputError&) {  // moved so far the board has no path, or couplings that cannot be
            }
        }
        out_.single_changes.push_back(std::move(row));
    }
}

/// The best single changes as places to begin from.
std::vector<Eigen::VectorXd> Calibrator::starts(const UnknownCase& board) const {
    std::vector<Eigen::VectorXd> out;
    for (size_t k = 0; k < std::min(changes_.rows.size(), starts_from_rows); ++k) {
        const MovedAlone& moved = changes_.rows[k].best;
        Eigen::VectorXd x = Eigen::VectorXd::Zero(board.size());
        for (Eigen::Index i = 0; i < board.size(); ++i) {
            const UnknownNumber& u = board.unknowns()[static_cast<size_t>(i)];
            const std::string& key = moved.keys.front();
            if (u.label != key && !(moved.everywhere && input_.spread[u.tolerance].key == key && !u.batch))
                continue;
            constexpr double most = 3;
            x[i] = std::clamp(
                (u.logarithmic ? std::log(moved.to / moved.from) : moved.to - moved.from) / u.deviation,
                -most, most);
        }
        out.push_back(std::move(x));
    }
    return out;
}

void Calibrator::fit() {
    const CheckResult before = check(input_, points_alone());
    UnknownCase board(input_);
    RecordModels records;
    for (const RecordTarget& target : targets_) records.emplace_back(board, target);
    const MapFits fits = fit_map(records, board.size(), starts(board));
    out_.converged = fits.best.converged;
    out_.other_minima = static_cast<int>(fits.others.size());
    if (!fits.others.empty()) {
        const Eigen::VectorXd apart = (fits.others.front().x - fits.best.x).cwiseAbs();
        constexpr size_t named = 4;
        for (Eigen::Index k = 0; k < apart.size() && out_.apart.size() < named; ++k)
            if (apart[k] >= 0.5 * apart.maxCoeff())
                out_.apart.push_back(board.unknowns()[static_cast<size_t>(k)].label);
    }
    settle_records(fits.best);
    settle_strain(board, fits.best);
    out_.unknowns = settled(board, fits.best, records);
    constexpr size_t most_combinations = 6;
    out_.combinations = combinations(board, fits.best, most_combinations);
    out_.calibrated = calibrated_case(input_, board, fits.best);
    out_.worst_before = worst_damping(before).value_or(std::numeric_limits<double>::quiet_NaN());
    const CheckResult after = check(out_.calibrated, points_alone());
    settle_worst(board, fits.best, after);
    if (options_.samples > 0) {
        SpreadOptions spread_options;
        spread_options.samples = options_.samples;
        spread_options.threads = options_.threads;
        out_.spread_before = spread(input_, spread_options);
        out_.spread_after = spread(out_.calibrated, spread_options);
    }
}

/// The least of Σ residual² + |x|² is χ² distributed where the case and its tolerances are right.
void Calibrator::settle_strain(const UnknownCase& board, const MapFit& fit) {
    Eigen::Index rows = 0;
    for (const RecordState& state : fit.records) rows += state.residuals.size();
    const boost::math::chi_squared expected(static_cast<double>(rows));
    out_.plausibility = boost::math::cdf(boost::math::complement(expected, std::max(fit.cost, 0.0)));
    std::vector<std::pair<double, std::string>> beyond;
    for (Eigen::Index k = 0; k < board.size(); ++k) {
        const UnknownNumber& u = board.unknowns()[static_cast<size_t>(k)];
        const Tolerance& t = input_.spread[u.tolerance];
        const double half_width = t.distribution == Distribution::normal ? 3 : std::numbers::sqrt3;
        if (std::abs(fit.x[k]) > half_width) beyond.emplace_back(-std::abs(fit.x[k]), u.label);
    }
    std::sort(beyond.begin(), beyond.end());
    for (auto& [far, label] : beyond) out_.beyond.push_back(std::move(label));
    // What no one number explains either is not a matter of tolerances.
    constexpr double hopeless = 1e-9;
    if (out_.plausibility >= hopeless) return;
    for (size_t k = 0; k < targets_.size(); ++k)
        if (targets_[k].ring() != nullptr && !explained_alone(k))
            read_.said[of_target_[k]].nothing_rings_like_that = true;
}

/// Does some number moved alone explain the record?
bool Calibrator::explained_alone(size_t target) const {
    return std::any_of(changes_.rows.begin(), changes_.rows.end(), [&](const SingleChange& c) {
        return greatest(c.best.residuals[target]) <= fits_within;
    });
}

void Calibrator::settle_records(const MapFit& fit) {
    std::vector<Eigen::VectorXd> residuals;
    for (size_t k = 0; k < fit.records.size(); ++k) {
        CalibratedRecord& said = read_.said[of_target_[k]];
        const RecordState& state = fit.records[k];
        residuals.push_back(state.residuals);
        said.greatest_off = greatest(state.residuals);
        said.off_after = root_mean_square({state.residuals});
        if (const RingData* ring = targets_[k].ring()) {
            said.after = beside(state.modes, *ring).front();
            said.nothing_rings_like_that = !said.fits() && !explained_alone(k);
        } else {
            const std::vector<std::complex<double>> computed =
                computed_impedance(targets_[k], state.residuals);
            for (size_t p = 0; p < computed.size(); ++p) said.impedance[p].after_ohm = computed[p];
        }
    }
    out_.misfit_after = root_mean_square(residuals);
    double sum = 0;
    Eigen::Index count = 0;
    for (const Eigen::VectorXd& r : residuals) count += r.size();
    for (const size_t r : of_target_) {
        const CalibratedRecord& said = read_.said[r];
        if (!said.modes.empty())
            sum +=
                std::pow(said.modes.front().frequency_off, 2) + std::pow(said.modes.front().damping_off, 2);
        else
            sum += std::pow(said.off_before, 2) * 2 * static_cast<double>(said.points);
    }
    out_.misfit_before = count == 0 ? 0 : std::sqrt(sum / static_cast<double>(count));
}

/// How far the least differential damping is known, by its slopes at the fit.
void Calibrator::settle_worst(UnknownCase& board, const MapFit& fit, const CheckResult& after) {
    if (!after.worst_differential) return;
    const FoundMode& worst = *after.worst_differential;
    out_.worst_after = worst.mode.damping_ratio();
    out_.worst_point = after.points[worst.point].point.name;
    const Eigen::MatrixXd covariance = fit.covariance();
    out_.known_before = known_before(board, out_.worst_point);
    out_.known_after = known_after(board, out_.worst_point, fit.x, covariance);
    const std::optional<Eigen::VectorXd> slopes = damping_slopes(board, out_.worst_point, worst.mode, fit.x);
    if (!slopes) return;
    if (options_.next) out_.next = next_measurements({board, bench_, fit.x, covariance, *slopes});
}

}  // namespace

bool Calibration::explained() const {
    return std::none_of(records.begin(), records.end(),
                        [](const CalibratedRecord& r) { return r.nothing_rings_like_that; });
}

Calibration calibrate(const Case& input, const BenchFile& bench, const CalibrateOptions& options) {
    return Calibrator(input, bench, options).run();
}

}  // namespace ringquell
