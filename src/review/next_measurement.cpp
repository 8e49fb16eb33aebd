#include "review/next_measurement.h"

#include <algorithm>
#include <cmath>
#include <limits>
#include <map>

#include "numerics/decompositions.h"
#include "ringquell/error.h"

namespace ringquell::internal {

namespace {

/// Of each stage so many points stand for all; of a large board the first positions for all.
constexpr size_t points_a_stage = 3;
constexpr int positions_tried = 4;
constexpr size_t told = 5;
/// A ring that is damped more than this has no two periods to be read from.
constexpr double still_rings = 0.3;
/// What a scope adds to the model's errors (common practice, no source).
constexpr double read_frequency = 0.003, read_damping = 0.05;
/// A measurement with voltage must tell this much more than one without.
constexpr double preference = 1.1;

std::vector<double> sweep() {
    constexpr double low_hz = 1e6, high_hz = 400e6, a_decade = 10;
    std::vector<double> out;
    for (double f = low_hz; f < high_hz; f *= std::pow(10, 1 / a_decade)) out.push_back(f);
    return out;
}

BenchRecord at_point(const std::string& name) {
    BenchRecord out;
    out.point = name;
    return out;
}

std::vector<SeenMode> in_band(ModeFinder& finder, const Network& network, const Case& input) {
    const double low_hz = input.require.band_low_hz, high_hz = input.require.band_high_hz;
    return finder.find(network, input.n(), low_hz, high_hz, std::sqrt(low_hz * high_hz));
}

std::optional<Mode> least_differential(ModeFinder& finder, const Network& network, const Case& input) {
    std::optional<Mode> out;
    for (const SeenMode& m : in_band(finder, network, input))
        if (m.mode().kind == ModeKind::differential &&
            (!out || m.mode().damping_ratio() < out->damping_ratio()))
            out = m.mode();
    return out;
}

class Candidates {
  public:
    explicit Candidates(const MeasurementQuestion& question) : q_(question) {}

    std::vector<NextMeasurement> run() {
        without_voltage();
        for (const std::string& point : points()) rings(point);
        const auto rank = [](const NextMeasurement& m) { return m.left * (m.unpowered ? 1 : preference); };
        std::stable_sort(
            found_.begin(), found_.end(),
            [&](const NextMeasurement& a, const NextMeasurement& b) { return rank(a) < rank(b); });
        std::vector<NextMeasurement> out;
        std::map<std::string, int> of_pair;
        constexpr int alike = 2;  // more of the same pair of nodes only repeat it
        for (NextMeasurement& m : found_)
            if (out.size() < told && of_pair[m.what + m.from + '|' + m.to]++ < alike)
                out.push_back(std::move(m));
        return out;
    }

  private:
    std::vector<std::string> points() {
        q_.board.set(q_.x);
        std::map<std::string, std::vector<std::string>> stages;
        for (const OperatingPoint& p : operating_path(q_.board.input()).points)
            stages[p.stage].push_back(p.name);
        std::vector<std::string> out;
        for (const auto& [stage, names] : stages)
            for (size_t k = 0; k < std::min(points_a_stage, names.size()); ++k)
                out.push_back(names[k * names.size() / points_a_stage]);
        return out;
    }

    /// A ring shows where the bench's probes are, or would be.
    std::vector<Probe> probes(const std::vector<std::string>& nodes) const {
        if (!q_.bench.probes.empty()) return q_.bench.probes;
        const auto has = [&](const std::string& name) {
            return std::find(nodes.begin(), nodes.end(), name) != nodes.end();
        };
        Probe ideal;
        for (const auto& [from, to] :
             {std::pair{"gate pin[1]", "gate pin[2]"}, {"gate pin[1]", "source pin[1]"}})
            if (has(from) && has(to)) {
                ideal.from = from;
                ideal.to = to;
                return {ideal};
            }
        return {};
    }

    void add(const char* what, const BenchRecord& place, const Probe& probe,
             const Eigen::MatrixXd& measurement) {
        NextMeasurement out;
        out.what = what;
        out.at = place.unpowered ? "unpowered" : place.point;
        out.unpowered = place.unpowered;
        out.from = probe.from;
        out.to = probe.to;
        out.probe = probe.name;
        out.left = known_with(q_.slopes, q_.covariance, measurement) / known(q_.slopes, q_.covariance).after;
        if (std::isfinite(out.left)) found_.push_back(std::move(out));
    }

    void rings(const std::string& name) {
        const BenchRecord place = at_point(name);
        for (const Probe& probe :
             probes(node_names(q_.board.input(), BoardAt(q_.board, place).point(q_.x)))) {
            BoardAt at(q_.board, place, probe);
            const OperatingPoint point = at.point(q_.x);
            NetworkOptions options;
            options.ports = {{probe.from, probe.to}};
            const Network network = build_network(q_.board.input(), point, options);
            const SeenMode* best = nullptr;
            const std::vector<SeenMode> modes = in_band(finder_, network, q_.board.input());
            for (const SeenMode& m : modes)
                if (std::abs(m.mode().damping_ratio()) < still_rings &&
                    (best == nullptr || m.view > best->view))
                    best = &m;
            if (best == nullptr) continue;
            const ModelError& model = q_.bench.model_error;
            const double zeta = std::abs(best->mode().damping_ratio());
            Eigen::MatrixXd rows = mode_slopes(network, best->pair);
            rows.row(0) /= std::hypot(read_frequency, model.frequency);
            rows.row(1) /=
                std::hypot(read_damping * zeta, std::max(model.damping * zeta, model.damping_at_least));
            add("ring", place, probe, rows * at.slopes(network, point, q_.x));
        }
    }

    void without_voltage() {
        BenchRecord place;
        place.unpowered = true;
        BoardAt at(q_.board, place);
        const OperatingPoint point = at.point(q_.x);
        const Network plain = build_network(q_.board.input(), point);
        const Eigen::MatrixXd slopes = at.slopes(plain, point, q_.x);
        for (const Probe& pair : pin_pairs(node_names(q_.board.input(), point))) {
            NetworkOptions options;
            options.ports = {{pair.from, pair.to}};
            const Network network = build_network(q_.board.input(), point, options);
            if (network.ports.front().across.empty()) continue;
            const PortSlopes z = port_slopes(network, sweep(), true);
            Eigen::MatrixXd rows(2 * z.impedance_ohm.size(), slopes.rows());
            for (Eigen::Index k = 0; k < z.impedance_ohm.size(); ++k) {
                const double error = BenchRecord{}.error * std::abs(z.impedance_ohm[k]);
                rows.row(2 * k) = z.slopes.row(k).real() / error;
                rows.row(2 * k + 1) = z.slopes.row(k).imag() / error;
            }
            add("impedance", place, pair, rows * slopes);
        }
    }

    /// What an analyser's tip reaches.
    std::vector<Probe> pin_pairs(const std::vector<std::string>& nodes) const {
        std::vector<Probe> out;
        const auto add_pair = [&](const std::string& from, const std::string& to) {
            for (const std::string& name : {from, to})
                if (std::find(nodes.begin(), nodes.end(), name) == nodes.end()) return;
            Probe pair;
            pair.from = from;
            pair.to = to;
            out.push_back(std::move(pair));
        };
        const int n = std::min(q_.board.input().n(), positions_tried);
        for (int k = 1; k <= n; ++k) {
            const std::string index = "[" + std::to_string(k) + "]";
            add_pair("gate pin" + index, "Kelvin pin" + index);
            add_pair("gate pin" + index, "source pin" + index);
            add_pair("drain pin" + index, "source pin" + index);
            if (k > 1) add_pair("gate pin[1]", "gate pin" + index);
        }
        add_pair("drain rail", "source rail");
        return out;
    }

    const MeasurementQuestion& q_;
    ModeFinder finder_;
    std::vector<NextMeasurement> found_;
};

}  // namespace

std::optional<Eigen::VectorXd> damping_slopes(UnknownCase& board, const std::string& point, const Mode& mode,
                                              const Eigen::VectorXd& x) {
    BoardAt at(board, at_point(point));
    const OperatingPoint there = at.point(x);
    const Network network = build_network(board.input(), there);
    constexpr double beside = 1.01;
    const double f = mode.ringing_frequency_hz();
    ModeFinder finder;
    const std::vector<SeenMode> modes = finder.find(network, board.input().n(), f / beside, f * beside, f);
    const auto nearest =
        std::min_element(modes.begin(), modes.end(), [&](const SeenMode& a, const SeenMode& b) {
            return std::abs(a.pair.eigenvalue - mode.eigenvalue) <
                   std::abs(b.pair.eigenvalue - mode.eigenvalue);
        });
    if (nearest == modes.end()) return {};
    return Eigen::VectorXd(
        (mode_slopes(network, nearest->pair) * at.slopes(network, there, x)).row(1).transpose());
}

std::vector<double> sampled_damping(UnknownCase& board, const std::string& point, const Eigen::VectorXd& mean,
                                    const Eigen::MatrixXd& covariance, int samples) {
    const HermitianEigenpairs pairs = hermitian_eigenpairs(covariance.cast<std::complex<double>>());
    const Eigen::MatrixXd root = pairs.vectors.real() * pairs.values.cwiseMax(0).cwiseSqrt().asDiagonal();
    BoardAt at(board, at_point(point));
    ModeFinder finder;
    NormalDraws draws(7);
    std::vector<double> out;
    for (int k = 0; k < samples; ++k) {
        const Eigen::VectorXd x = mean + root * draws.next(mean.size(), 1);
        std::optional<Mode> least;
        try {
            least = least_differential(finder, at.network(x), board.input());
        } catch (const InputError&) {
            continue;
        } catch (const NumericalError&) {
            continue;
        }
        if (least) out.push_back(least->damping_ratio());
    }
    std::sort(out.begin(), out.end());
    return out;
}

namespace {

constexpr int samples_of_damping = 199;

Calibration::WorstKnown spread_of(const std::vector<double>& rising) {
    Calibration::WorstKnown out;
    if (rising.size() < 2) return out;
    const auto n = static_cast<double>(rising.size());
    double sum = 0, squares = 0;
    for (const double v : rising) sum += v;
    for (const double v : rising) squares += std::pow(v - sum / n, 2);
    out.error = std::sqrt(squares / (n - 1));
    // Between order statistics k and n + 1 − k lie (n + 1 − 2k)/(n + 1) of what may be.
    constexpr double tail = 0.025;
    const size_t k = std::max<size_t>(1, static_cast<size_t>(tail * (n + 1)));
    out.low = rising[k - 1];
    out.high = rising[rising.size() - k];
    return out;
}

}  // namespace

Calibration::WorstKnown known_before(UnknownCase& board, const std::string& point) {
    const Eigen::MatrixXd one = Eigen::MatrixXd::Identity(board.size(), board.size());
    return spread_of(
        sampled_damping(board, point, Eigen::VectorXd::Zero(board.size()), one, samples_of_damping));
}

Calibration::WorstKnown known_after(UnknownCase& board, const std::string& point, const Eigen::VectorXd& x,
                                    const Eigen::MatrixXd& covariance) {
    const std::vector<double> samples = sampled_damping(board, point, x, covariance, samples_of_damping);
    Calibration::WorstKnown out = spread_of(samples);
    ModeFinder finder;
    const Network network = BoardAt(board, at_point(point)).network(x);
    const std::optional<Mode> least = least_differential(finder, network, board.input());
    if (!least || samples.empty()) return out;
    const double value = least->damping_ratio(), aside = value - samples[samples.size() / 2];
    out.low += aside;
    out.high += aside;
    if (const auto slopes = damping_slopes(board, point, *least, x)) {
        constexpr double normal_95 = 1.959964;
        const double error = known(*slopes, covariance).after;
        out.error = std::max(out.error, error);
        out.low = std::min(out.low, value - normal_95 * error);
        out.high = std::max(out.high, value + normal_95 * error);
    }
    return out;
}

std::vector<NextMeasurement> next_measurements(const MeasurementQuestion& question) {
    return Candidates(question).run();
}

}  // namespace ringquell::internal
