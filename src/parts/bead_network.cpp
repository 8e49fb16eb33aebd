#include "parts/bead_network.h"

#include <Eigen/Core>
#include <algorithm>
#include <cmath>
#include <limits>

#include "numerics/decompositions.h"

namespace ringquell::internal {

namespace {

using Complex = std::complex<double>;
using Eigen::MatrixXd;
using Eigen::VectorXd;

/// min |A·x − b| over x ≥ 0 from AᵀA and Aᵀb; Lawson & Hanson's active set.
VectorXd non_negative_least_squares(const MatrixXd& ata, const VectorXd& atb) {
    const Eigen::Index n = atb.size();
    VectorXd x = VectorXd::Zero(n);
    std::vector<bool> free(static_cast<size_t>(n), false);
    // The gradient is judged against the size of the terms it cancels from.
    const double tolerance = 1e-10 * atb.cwiseAbs().maxCoeff();
    const auto solve = [&] {
        std::vector<Eigen::Index> set;
        for (Eigen::Index i = 0; i < n; ++i) {
            if (free[i]) set.push_back(i);
        }
        VectorXd out = VectorXd::Zero(n);
        if (set.empty()) return out;
        const MatrixXd matrix = ata(set, set);
        const VectorXd right = atb(set);
        const VectorXd solution = solve_symmetric(matrix, right);
        out(set) = solution;
        return out;
    };
    for (int round = 0; round < 3 * n; ++round) {
        const VectorXd gradient = atb - ata * x;
        Eigen::Index best = -1;
        for (Eigen::Index i = 0; i < n; ++i) {
            if (!free[i] && gradient(i) > tolerance && (best < 0 || gradient(i) > gradient(best))) best = i;
        }
        if (best < 0) break;
        free[best] = true;
        VectorXd next = solve();
        if (next(best) <= 0) break;  // rounding: nothing more to gain
        for (int inner = 0; inner < n; ++inner) {
            double share = 1;
            for (Eigen::Index i = 0; i < n; ++i) {
                if (free[i] && next(i) <= 0) share = std::min(share, x(i) / (x(i) - next(i)));
            }
            if (share >= 1) break;
            x += share * (next - x);
            for (Eigen::Index i = 0; i < n; ++i) {
                if (free[i] && (next(i) <= 0 && x(i) <= 1e-14 * x.maxCoeff())) {
                    free[i] = false;
                    x(i) = 0;
                }
            }
            next = solve();
        }
        x = next.cwiseMax(0.0);
    }
    return x;
}

/// Columns of the start's grid per decade: pairs of neighbours can stand for any corner between them to about
/// 1 %.
constexpr double corners_per_decade = 6;

double log_rms(const BeadElements& elements, const BeadData& data) {
    double sum = 0;
    for (size_t i = 0; i < data.omega.size(); ++i)
        sum += std::norm(std::log(impedance_ohm(elements, data.omega[i]) / data.z[i]));
    return std::sqrt(sum / static_cast<double>(data.omega.size()));
}

/// The elements above zero as logarithms: R and corner of each section, then C, then the DC resistance.
struct Parameters {
    explicit Parameters(const BeadElements& e)
        : sections(e.sections.size()),
          with_c(e.capacitance_f > 0),
          with_dc(!e.dc_resistance_known && e.dc_resistance_ohm > 0) {}
    Eigen::Index count() const { return static_cast<Eigen::Index>(2 * sections) + with_c + with_dc; }

    VectorXd of(const BeadElements& e) const {
        VectorXd p(count());
        Eigen::Index k = 0;
        for (const auto& s : e.sections) {
            p(k++) = std::log(s.resistance_ohm);
            p(k++) = std::log(s.corner_rad_per_s);
        }
        if (with_c) p(k++) = std::log(e.capacitance_f);
        if (with_dc) p(k++) = std::log(e.dc_resistance_ohm);
        return p;
    }

    void put(const VectorXd& p, BeadElements& e) const {
        Eigen::Index k = 0;
        for (auto& s : e.sections) {
            s.resistance_ohm = std::exp(p(k++));
            s.corner_rad_per_s = std::exp(p(k++));
        }
        if (with_c) e.capacitance_f = std::exp(p(k++));
        if (with_dc) e.dc_resistance_ohm = std::exp(p(k++));
    }

    size_t sections;
    bool with_c, with_dc;
};

/// Residuals (real parts, then imaginary parts) and, where asked for, their derivatives by the parameters.
double residuals(const BeadElements& e, const BeadData& data, BeadObjective objective,
                 const Parameters& parameters, VectorXd& r, MatrixXd* jacobian) {
    const auto m = static_cast<Eigen::Index>(data.omega.size());
    r.resize(2 * m);
    if (jacobian != nullptr) jacobian->resize(2 * m, parameters.count());
    std::vector<Complex> z(e.sections.size());
    for (Eigen::Index i = 0; i < m; ++i) {
        const Complex s(0, data.omega[i]);
        Complex sum = 0;
        for (size_t k = 0; k < z.size(); ++k) {
            z[k] = e.sections[k].resistance_ohm * s / (s + e.sections[k].corner_rad_per_s);
            sum += z[k];
        }
        const Complex d = 1.0 + s * e.capacitance_f * sum;
        const Complex model = e.dc_resistance_ohm + sum / d;
        const Complex residual =
            objective == BeadObjective::relative ? model / data.z[i] - 1.0 : std::log(model / data.z[i]);
        r(i) = residual.real();
        r(m + i) = residual.imag();
        if (jacobian == nullptr) continue;
        const Complex scale = 1.0 / (objective == BeadObjective::relative ? data.z[i] : model);
        const Complex by_sum = scale / (d * d);
        Eigen::Index column = 0;
        const auto put = [&](Complex derivative) {
            (*jacobian)(i, column) = derivative.real();
            (*jacobian)(m + i, column++) = derivative.imag();
        };
        for (size_t k = 0; k < z.size(); ++k) {
            put(by_sum * z[k]);
            put(-by_sum * z[k] * e.sections[k].corner_rad_per_s / (s + e.sections[k].corner_rad_per_s));
        }
        if (parameters.with_c) put(-by_sum * s * e.capacitance_f * sum * sum);
        if (parameters.with_dc) put(scale * e.dc_resistance_ohm);
    }
    return r.squaredNorm();
}

}  // namespace

std::complex<double> impedance_ohm(const BeadElements& elements, double omega) {
    const Complex s(0, omega);
    Complex sum = 0;
    for (const auto& k : elements.sections) sum += k.resistance_ohm * s / (s + k.corner_rad_per_s);
    return elements.dc_resistance_ohm + sum / (1.0 + s * elements.capacitance_f * sum);
}

double relative_rms(const BeadElements& elements, const BeadData& data) {
    double sum = 0;
    for (size_t i = 0; i < data.omega.size(); ++i)
        sum += std::norm(impedance_ohm(elements, data.omega[i]) / data.z[i] - 1.0);
    return std::sqrt(sum / static_cast<double>(data.omega.size()));
}

BeadElements start_elements(const BeadData& data, double capacitance_f, double dc_resistance_ohm) {
    const auto m = static_cast<Eigen::Index>(data.omega.size());
    std::vector<double> corners;
    const double last = 100 * data.omega.back();
    for (double w = data.omega.front() / 100; w < last; w *= std::pow(10, 1 / corners_per_decade))
        corners.push_back(w);
    const auto sections = static_cast<Eigen::Index>(corners.size());
    MatrixXd a(2 * m, sections);
    VectorXd b(2 * m);
    for (Eigen::Index i = 0; i < m; ++i) {
        const Complex s(0, data.omega[i]);
        const Complex z = data.z[i] - dc_resistance_ohm;
        const Complex admittance = 1.0 / z - s * capacitance_f;
        const Complex inner = 1.0 / admittance;
        const double weight = std::abs(z) * std::norm(admittance) * (std::abs(z) / std::abs(data.z[i]));
        const auto put = [&](Eigen::Index column, Complex value) {
            a(i, column) = weight * value.real();
            a(m + i, column) = weight * value.imag();
        };
        for (Eigen::Index k = 0; k < sections; ++k) put(k, s / (s + corners[k]));
        b(i) = weight * inner.real();
        b(m + i) = weight * inner.imag();
    }
    const VectorXd scale =
        a.colwise().norm().cwiseMax(std::numeric_limits<double>::min()).cwiseInverse().transpose();
    a = a * scale.asDiagonal();
    const VectorXd x = non_negative_least_squares(a.transpose() * a, a.transpose() * b).cwiseProduct(scale);
    BeadElements out;
    for (Eigen::Index k = 0; k < sections; ++k) {
        if (x(k) > 0) out.sections.push_back({x(k), corners[k]});
    }
    out.capacitance_f = capacitance_f;
    out.dc_resistance_ohm = dc_resistance_ohm;
    return out;
}

std::vector<BeadElements> best_starts(const BeadData& data, double dc_resistance_ohm) {
    // What the inductive part takes from the capacitance's current is most at the low end: |Y|/ω of the upper
    // half of the band (in decades) bounds C.
    const double middle = std::sqrt(data.omega.front() * data.omega.back());
    double most = 0;
    for (size_t i = 0; i < data.omega.size(); ++i) {
        if (data.omega[i] >= middle) most = std::max(most, 1 / (std::abs(data.z[i]) * data.omega[i]));
    }
    struct Trial {
        double capacitance_f = 0;
        double error = std::numeric_limits<double>::infinity();
        BeadElements elements;
    };
    const auto attempt = [&](double c) {
        Trial trial{c, std::numeric_limits<double>::infinity(), start_elements(data, c, dc_resistance_ohm)};
        if (!trial.elements.sections.empty()) trial.error = log_rms(trial.elements, data);
        return trial;
    };
    constexpr int steps = 36;  // over four decades: a factor 1.3 apart
    constexpr double decades_down = 4;
    std::vector<Trial> trials{attempt(0)};
    for (int i = 0; i <= steps; ++i)
        trials.push_back(attempt(2 * most * std::pow(10, decades_down * (double(i) / steps - 1))));
    std::vector<Trial> minima;
    for (size_t i = 0; i < trials.size(); ++i) {
        const double before = i > 0 ? trials[i - 1].error : std::numeric_limits<double>::infinity();
        const double after =
            i + 1 < trials.size() ? trials[i + 1].error : std::numeric_limits<double>::infinity();
        if (!std::isfinite(trials[i].error) || trials[i].error > before || trials[i].error > after) continue;
        Trial best = trials[i];
        // Halve the steps in log C around the minimum; 8 times leaves 0.1 %.
        double ratio = std::pow(10, decades_down / steps / 2);
        for (int halving = 0; halving < 8 && best.capacitance_f > 0; ++halving, ratio = std::sqrt(ratio)) {
            for (const double c : {best.capacitance_f / ratio, best.capacitance_f * ratio}) {
                Trial trial = attempt(c);
                if (trial.error < best.error) best = std::move(trial);
            }
        }
        minima.push_back(std::move(best));
    }
    std::sort(minima.begin(), minima.end(), [](const Trial& x, const Trial& y) { return x.error < y.error; });
    std::vector<BeadElements> out;
    for (size_t i = 0; i < std::min<size_t>(minima.size(), 3); ++i)
        out.push_back(std::move(minima[i].elements));
    return out;
}

BeadElements merged_to(BeadElements e, size_t count) {
    while (e.sections.size() > std::max<size_t>(count, 1)) {
        size_t least = 0;
        double least_harm = std::numeric_limits<double>::infinity();
        for (size_t i = 0; i + 1 < e.sections.size(); ++i) {
            const auto& a = e.sections[i];
            const auto& b = e.sections[i + 1];
            const double distance = std::log(b.corner_rad_per_s / a.corner_rad_per_s);
            const double middle = std::sqrt(a.corner_rad_per_s * b.corner_rad_per_s);
            const double harm = distance * distance * std::min(a.resistance_ohm, b.resistance_ohm) /
                                std::abs(impedance_ohm(e, middle));
            if (harm < least_harm) {
                least_harm = harm;
                least = i;
            }
        }
        auto& a = e.sections[least];
        const auto& b = e.sections[least + 1];
        const double sum = a.resistance_ohm + b.resistance_ohm;
        a.corner_rad_per_s = std::exp((a.resistance_ohm * std::log(a.corner_rad_per_s) +
                                       b.resistance_ohm * std::log(b.corner_rad_per_s)) /
                                      sum);
        a.resistance_ohm = sum;
        e.sections.erase(e.sections.begin() + static_cast<std::ptrdiff_t>(least) + 1);
    }
    return e;
}

void refine(BeadElements& elements, const BeadData& data, BeadObjective objective, int most_steps) {
    const Parameters parameters(elements);
    if (parameters.count() == 0) return;
    const double lowest_corner = std::log(data.omega.front() / 1e5);
    const double highest_corner = std::log(data.omega.back() * 1e5);
    VectorXd r, trial_r;
    MatrixXd jacobian;
    double cost = residuals(elements, data, objective, parameters, r, &jacobian);
    double damping = 1e-3;
    double growth = 2;
    int settled = 0;
    for (int step = 0; step < most_steps; ++step) {
        const MatrixXd jtj = jacobian.transpose() * jacobian;
        const VectorXd gradient = jacobian.transpose() * r;
        // Marquardt's scaling, with a floor so that a parameter without effect stays where it is.
        const VectorXd diagonal = jtj.diagonal().cwiseMax(1e-14 * jtj.diagonal().maxCoeff());
        bool better = false;
        for (int attempt = 0; attempt < 12 && !better; ++attempt) {
            MatrixXd damped = jtj;
            damped.diagonal() += damping * diagonal;
            // A change of more than e² at once leaves what the derivatives know.
            const VectorXd change = -solve_symmetric(damped, gradient).cwiseMax(-2.0).cwiseMin(2.0);
            VectorXd p = parameters.of(elements) + change;
            for (size_t k = 0; k < parameters.sections; ++k) {
                double& corner = p(static_cast<Eigen::Index>(2 * k + 1));
                corner = std::clamp(corner, lowest_corner, highest_corner);
            }
            BeadElements trial = elements;
            parameters.put(p, trial);
            const double trial_cost = residuals(trial, data, objective, parameters, trial_r, nullptr);
            if (trial_cost < cost) {
                settled = cost - trial_cost < 1e-7 * cost ? settled + 1 : 0;
                elements = std::move(trial);
                cost = trial_cost;
                damping = std::max(damping / 5, 1e-15);
                growth = 2;
                better = true;
            } else {
                damping *= growth;
                growth *= 2;
            }
        }
        if (!better || settled >= 3) break;
        residuals(elements, data, objective, parameters, r, &jacobian);
    }
    std::sort(elements.sections.begin(), elements.sections.end(),
              [](const auto& a, const auto& b) { return a.corner_rad_per_s < b.corner_rad_per_s; });
}

}  // namespace ringquell::internal
