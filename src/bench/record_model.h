// What a case says a record should show, and how that follows the unknowns.
//
// Residuals, each over its error: of a ring ln f and ζ of the mode that it is taken for, of a port's impedance the real
// and the imaginary part of Z at each frequency. Derivatives: dλ = Σ_i yᴴ(∂A/∂v_i − λ∂E/∂v_i)x/(yᴴEx)·dv_i over the
// values v_i of the network's elements; dZ = −Σ_i zᵀ(s∂E/∂v_i − ∂A/∂v_i)x·dv_i with (sE − A)x = b, (sE − A)ᵀz = b
// (the adjoint); dv_i/dx_k by central differences of the rules that give v_i, at operating points found anew where
// they move.
#pragma once

#include <Eigen/Core>
#include <complex>
#include <optional>
#include <string>
#include <variant>
#include <vector>

#include "bench/seen_modes.h"
#include "bench/unknowns.h"
#include "network/values.h"
#include "ringquell/bench_file.h"

namespace ringquell::internal {

struct RingData {
    double frequency_hz = 0, damping_ratio = 0;
    double log_frequency_error = 0, damping_error = 0;  // the record's and the model's, in squares
};

struct PortData {
    std::vector<double> frequency_hz;
    std::vector<std::complex<double>> impedance_ohm;
    double error = 0;  // as a share of |Z|, of the real and of the imaginary part
};

/// One record in numbers.
struct RecordTarget {
    BenchRecord record;          // where, between which nodes
    std::optional<Probe> probe;  // that hangs there
    std::variant<RingData, PortData> data;

    const RingData* ring() const { return std::get_if<RingData>(&data); }
    Eigen::Index rows() const;
};

/// What a record's model says at one x.
struct RecordState {
    Eigen::VectorXd residuals;
    Eigen::MatrixXd slopes;       // residuals × unknowns; empty where not asked for
    std::vector<SeenMode> modes;  // of a ring: those that it might be, the likeliest first
    /// Of each, Σ residual² + 2·ln(greatest view/its view): minus twice the logarithm of how likely it is, a mode
    /// being recorded as often as it is seen.
    std::vector<double> misfits;
};

/// A board whose unknowns are x, at one place: its operating point and network.
class BoardAt {
  public:
    BoardAt(UnknownCase& board, BenchRecord place, std::optional<Probe> probe = {});
    /// Sets the board to x and finds the point. Throws InputError where there is none.
    OperatingPoint point(const Eigen::VectorXd& x);
    /// The network there, with the probe.
    Network network(const Eigen::VectorXd& x);
    /// dv_i/dx_k, elements × unknowns; `network` is of this point at x. The board is at x again afterwards.
    Eigen::MatrixXd slopes(const Network& network, const OperatingPoint& point, const Eigen::VectorXd& x);
    UnknownCase& board() { return board_; }

  private:
    void set(const Eigen::VectorXd& x);
    UnknownCase& board_;
    BenchRecord place_;
    std::vector<Probe> probes_;
};

/// One record against a board with unknowns.
class RecordModel {
  public:
    RecordModel(UnknownCase& board, RecordTarget target);
    const RecordTarget& target() const { return target_; }
    /// Throws InputError and NumericalError where network or point cannot exist at x, and NumericalError where no mode
    /// rings within a factor of four of the ring's frequency.
    RecordState at(const Eigen::VectorXd& x, bool with_slopes);
    /// The network there.
    Network network(const Eigen::VectorXd& x);
    /// All that oscillates there, however far from the ring; and of these what is within a factor of four of it.
    std::vector<SeenMode> every_mode(const Eigen::VectorXd& x);
    std::vector<SeenMode> near(const std::vector<SeenMode>& modes) const;

  private:
    void ring(const Network& network, const RingData& data, RecordState& out);
    UnknownCase& board_;
    RecordTarget target_;
    BoardAt at_;
    ModeFinder finder_;
};

/// d(ln f, ζ) of a mode by the values of the network's elements: 2 × elements.
Eigen::MatrixXd mode_slopes(const Network& network, const EigenProbe& pair);

/// Z of the network's first port at s = j2πf, and its derivatives by the elements' values: frequencies × elements.
struct PortSlopes {
    Eigen::VectorXcd impedance_ohm;
    Eigen::MatrixXcd slopes;
};
PortSlopes port_slopes(const Network& network, const std::vector<double>& frequencies_hz, bool with_slopes);

}  // namespace ringquell::internal
