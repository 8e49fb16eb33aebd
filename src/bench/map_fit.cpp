#include "bench/map_fit.h"

#include <algorithm>
#include <cmath>

#include "numerics/decompositions.h"
#include "numerics/nonlinear_fit.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

Eigen::Index rows_of(const RecordModels& records) {
    Eigen::Index rows = 0;
    for (const RecordModel& r : records) rows += r.target().rows();
    return rows;
}

/// Residuals of all records, then x itself, whose square is the prior.
bool evaluate(RecordModels& records, const Eigen::VectorXd& x, Eigen::VectorXd& r, Eigen::MatrixXd* slopes) {
    const Eigen::Index data = rows_of(records), n = x.size();
    r.resize(data + n);
    r.tail(n) = x;
    if (slopes != nullptr) {
        slopes->resize(data + n, n);
        slopes->bottomRows(n).setIdentity();
    }
    Eigen::Index row = 0;
    for (RecordModel& record : records) {
        RecordState state;
        try {
            state = record.at(x, slopes != nullptr);
        } catch (const InputError&) {
            return false;
        } catch (const NumericalError&) {
            return false;
        }
        const Eigen::Index rows = state.residuals.size();
        r.segment(row, rows) = state.residuals;
        if (slopes != nullptr) slopes->middleRows(row, rows) = state.slopes;
        row += rows;
    }
    return true;
}

double cost_of(const MapFit& fit) {
    double out = fit.x.squaredNorm();
    for (const RecordState& state : fit.records)
        out += state.misfits.empty() ? state.residuals.squaredNorm() : state.misfits.front();
    return out;
}

}  // namespace

Eigen::MatrixXd MapFit::covariance(std::optional<size_t> without) const {
    Eigen::MatrixXd information = Eigen::MatrixXd::Identity(x.size(), x.size());
    for (size_t r = 0; r < records.size(); ++r)
        if (r != without) information += records[r].slopes.transpose() * records[r].slopes;
    const Eigen::MatrixXd one = Eigen::MatrixXd::Identity(x.size(), x.size());
    const Eigen::MatrixXd out = solve(information, one);
    return 0.5 * (out + out.transpose());
}

std::optional<MapFit> fit_from(RecordModels& records, const Eigen::VectorXd& start) {
    Eigen::VectorXd r;
    if (!evaluate(records, start, r, nullptr)) return {};
    const auto residuals = [&](const Eigen::VectorXd& x, Eigen::VectorXd& out, Eigen::MatrixXd* slopes) {
        return evaluate(records, x, out, slopes);
    };
    constexpr double precision = 1e-7;
    const NonlinearFit found = fit_nonlinear(residuals, start, r.size(), precision);
    MapFit out;
    out.x = found.x;
    out.converged = found.converged;
    try {
        for (RecordModel& record : records) out.records.push_back(record.at(out.x, true));
    } catch (const InputError&) {
        return {};
    } catch (const NumericalError&) {
        return {};
    }
    out.cost = cost_of(out);
    return out;
}

MapFits fit_map(RecordModels& records, Eigen::Index unknowns, const std::vector<Eigen::VectorXd>& starts) {
    constexpr double beside = 0.05, spread_out = 0.7;
    constexpr int drawn = 3;
    NormalDraws draws(20);
    std::vector<Eigen::VectorXd> all{draws.next(unknowns, beside)};
    for (const Eigen::VectorXd& start : starts) all.push_back(start + draws.next(unknowns, beside));
    for (int k = 0; k < drawn; ++k) all.push_back(draws.next(unknowns, spread_out));
    std::vector<MapFit> found;
    for (const Eigen::VectorXd& start : all)
        if (std::optional<MapFit> fit = fit_from(records, start)) found.push_back(std::move(*fit));
    if (found.empty()) throw NumericalError("the records have no model anywhere within the tolerances");
    std::stable_sort(found.begin(), found.end(),
                     [](const MapFit& a, const MapFit& b) { return a.cost < b.cost; });
    MapFits out{std::move(found.front()), {}};
    for (size_t k = 1; k < found.size(); ++k) {
        if (found[k].cost > out.best.cost + MapFits::nearly_as_good) break;
        const auto apart = [&](const MapFit& other) { return (found[k].x - other.x).norm() > 1; };
        if (apart(out.best) && std::all_of(out.others.begin(), out.others.end(), apart))
            out.others.push_back(std::move(found[k]));
    }
    return out;
}

}  // namespace ringquell::internal
