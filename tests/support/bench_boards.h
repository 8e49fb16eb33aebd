// Boards with a truth of their own, and what a bench would read off them.
#pragma once

#include <cmath>
#include <optional>
#include <random>
#include <string>
#include <utility>
#include <vector>

#include "bench/record_model.h"
#include "numerics/random_numbers.h"

namespace bench_boards {

using namespace ringquell;
using namespace ringquell::internal;

/// Normal and uniform numbers, the same on every machine.
class Dice {
  public:
    explicit Dice(std::uint64_t seed) : random_(seed) {}
    double uniform() { return (static_cast<double>(random_() >> 11) + 0.5) * 0x1p-53; }
    double normal() { return normal_quantile(uniform()); }
    size_t below(size_t n) { return static_cast<size_t>(uniform() * static_cast<double>(n)); }

  private:
    std::mt19937_64 random_;
};

inline BenchRecord at(const std::string& point) {
    BenchRecord out;
    out.name = out.point = point;
    return out;
}

inline BenchRecord between(BenchRecord record, const std::string& from, const std::string& to) {
    record.from = from;
    record.to = to;
    return record;
}

/// Of all that rings at the record's nodes what shows most, below 1 GHz; nothing where no board or mode is there.
inline std::optional<Mode> most_visible(UnknownCase& board, const BenchRecord& record,
                                        const Eigen::VectorXd& x, const std::optional<Probe>& probe = {},
                                        double cds_factor = 1) {
    try {
        BoardAt place(board, record, probe);
        OperatingPoint point = place.point(x);
        for (DeviceValues& d : point.devices) d.mosfet.cds_f *= cds_factor;
        NetworkOptions options;
        options.ports = {{record.from, record.to}};
        const Network network = build_network(board.input(), point, options);
        ModeFinder finder;
        std::optional<SeenMode> best;
        for (SeenMode& m : finder.find(network, board.input().n(), 1e6, 1e9, 60e6))
            if (!best || m.view > best->view) best = std::move(m);
        if (best) return best->mode();
    } catch (const InputError&) {
    } catch (const NumericalError&) {
    }
    return {};
}

/// Standard errors of a ring.
struct RingErrors {
    double log_frequency, damping;
};

inline RecordTarget ring_record(const BenchRecord& record, const Mode& truth, const RingErrors& read,
                                const RingErrors& stated, Dice& dice) {
    RecordTarget out;
    out.record = record;
    out.data =
        RingData{truth.ringing_frequency_hz() * std::exp(read.log_frequency * dice.normal()),
                 truth.damping_ratio() + read.damping * dice.normal(), stated.log_frequency, stated.damping};
    return out;
}

/// The impedance between the record's nodes, ten points a decade.
inline RecordTarget port_record(UnknownCase& board, const BenchRecord& record, const Eigen::VectorXd& x,
                                double error, Dice& dice) {
    BoardAt place(board, record);
    const OperatingPoint point = place.point(x);
    NetworkOptions options;
    options.ports = {{record.from, record.to}};
    PortData data;
    data.error = error;
    for (double f = 1e6; f < 400e6; f *= std::pow(10, 0.1)) data.frequency_hz.push_back(f);
    const PortSlopes z = port_slopes(build_network(board.input(), point, options), data.frequency_hz, false);
    for (const std::complex<double>& ohm : z.impedance_ohm) {
        const double off = error * std::abs(ohm);
        const double real = off * dice.normal(), imaginary = off * dice.normal();
        data.impedance_ohm.emplace_back(ohm + std::complex<double>(real, imaginary));
    }
    RecordTarget out;
    out.record = record;
    out.data = std::move(data);
    return out;
}

}  // namespace bench_boards
