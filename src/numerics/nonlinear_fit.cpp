#include "numerics/nonlinear_fit.h"

#include <limits>
#include <stdexcept>
#include <unsupported/Eigen/NonLinearOptimization>

namespace ringquell::internal {

namespace {

/// What Eigen's iteration asks. Residuals that do not exist count as so large that the step is refused.
struct Asked {
    const Residuals* function;
    Eigen::Index unknowns, rows;
    int* evaluations;

    int inputs() const { return static_cast<int>(unknowns); }
    int values() const { return static_cast<int>(rows); }
    int operator()(const Eigen::VectorXd& x, Eigen::VectorXd& r) const {
        constexpr double refused = 1e100;
        ++*evaluations;
        if (!x.allFinite() || !(*function)(x, r, nullptr) || !r.allFinite()) r.setConstant(rows, refused);
        return 0;
    }
    int df(const Eigen::VectorXd& x, Eigen::MatrixXd& slopes) const {
        Eigen::VectorXd r(rows);
        ++*evaluations;
        return (*function)(x, r, &slopes) && slopes.allFinite() ? 0 : -1;
    }
};

}  // namespace

NonlinearFit fit_nonlinear(const Residuals& residuals, const Eigen::VectorXd& start, Eigen::Index rows,
                           double precision) {
    NonlinearFit out;
    out.x = start;
    out.residuals.resize(rows);
    out.slopes.resize(rows, start.size());
    if (!residuals(start, out.residuals, nullptr) || !out.residuals.allFinite())
        throw std::invalid_argument("expected a start at which the residuals exist");
    Asked asked{&residuals, start.size(), rows, &out.evaluations};
    Eigen::LevenbergMarquardt<Asked> iteration(asked);
    iteration.parameters.ftol = iteration.parameters.xtol = precision;
    iteration.parameters.gtol = 0;
    iteration.parameters.maxfev = 400;
    iteration.parameters.factor = 10;
    using namespace Eigen::LevenbergMarquardtSpace;
    const Status status = iteration.minimize(out.x);
    out.converged = status == RelativeReductionTooSmall || status == RelativeErrorTooSmall ||
                    status == RelativeErrorAndReductionTooSmall || status == FtolTooSmall ||
                    status == XtolTooSmall || status == GtolTooSmall || status == CosinusTooSmall;
    out.converged = residuals(out.x, out.residuals, &out.slopes) && out.converged;
    return out;
}

}  // namespace ringquell::internal
