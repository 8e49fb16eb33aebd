// The modes of a case at one operating point: eigenvalues, their kinds, and how far they can be trusted.
#pragma once

#include <complex>
#include <memory>
#include <string>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/element_kind.h"
#include "ringquell/operating_path.h"

namespace ringquell {

namespace internal {
class Trial;
}

enum class ModeKind { differential, common };
/// "differential" or "common".
const char* kind_name(ModeKind kind);

/// A conjugate pair, or a real eigenvalue (imaginary part zero); equal ones are one entry.
struct Mode {
    std::complex<double> eigenvalue;  // rad/s, imaginary part >= 0
    ModeKind kind = ModeKind::common;
    double common_share = 1;
    int multiplicity = 1;
    /// What the transconductances that feed it take from its damping ratio, each alone, in the power balance
    /// (docs/model.md). Known of differential modes in the band where require.passive_damping asks for it,
    /// else 0; of equal modes the most.
    double gain_feed = 0;

    bool oscillates() const { return eigenvalue.imag() != 0; }
    double natural_frequency_hz() const;
    double ringing_frequency_hz() const;
    /// ζ = −Re λ/|λ|
    double damping_ratio() const;
    /// A common share between 0.3 and 0.7: neither one nor the other.
    bool mixed() const { return common_share > 0.3 && common_share < 0.7; }
};

/// |x| within [low, high] of the requirement's band.
bool in_band(const Mode& mode, const Requirement& require);
/// The damping asked of a mode's kind; 0 where a common mode must only not grow. With
/// require.passive_damping, of a differential mode min(differential_damping, passive_damping + gain_feed).
double damping_target(const Mode& mode, const Requirement& require);

/// What one element does in a mode.
struct ElementShare {
    std::string key;  // the case's key, with its position where it is one position's
    ElementKind kind = ElementKind::resistance;
    double value = 0;          // of the key, SI
    double energy_share = 0;   // of the mode's stored energy
    double damping_share = 0;  // part of ζ that it gives; negative where it feeds the mode
    double damping_slope = 0;  // dζ/d ln(value): a tenth of it is the effect of +10 %
};

enum class Method {
    automatic,
    blocks,  // one common and one differential block; needs alike positions
    whole,   // the whole network, all eigenvalues
    sparse,  // the whole network, shift-invert over the band
};

struct Modes {
    /// Every finite eigenvalue but structural zeros (see complete_list), least damped first.
    std::vector<Mode> modes;
    int structural_zeros = 0;
    int unknowns = 0, states = 0;
    double condition = 1;
    Method method = Method::whole;
    /// Positions are alike, and one stands for all of them: a common and a differential block were solved.
    bool by_blocks() const { return method == Method::blocks; }
    /// False where only what a verdict needs was sought (Method::sparse): every mode in the band that misses
    /// its target and every growing eigenvalue from 1 Hz to 1 THz are there, of the others only some; states,
    /// structural zeros and condition are not known.
    bool complete_list = true;
    std::string proof;  // with an incomplete list: how it is known that nothing that misses was missed
};

/// Solves points of one case; keeps what is recorded for a structure between points. Not for two threads at
/// once.
class ModeSolver {
  public:
    explicit ModeSolver(const Case& input, Method method = Method::automatic);
    ~ModeSolver();
    ModeSolver(ModeSolver&&) noexcept;

    /// Every mode at the point. Throws NumericalError where the numbers cannot be trusted, InputError as
    /// build_network does.
    Modes solve(const OperatingPoint& point);
    /// As solve, with every gate resistor that the edge uses replaced by `resistor_ohm` >= 0. With alike
    /// positions the differential modes alone, so it costs one block; else all modes.
    std::vector<Mode> with_gate_resistor(const OperatingPoint& point, double resistor_ohm);
    bool alike(const OperatingPoint& point) const;
    const Case& input() const;

  private:
    friend class internal::Trial;
    /// Values of the case (the same object) have changed: networks are built anew, recorded eliminations
    /// kept. Only who owns the case and its solver can know.
    void case_changed();

    struct State;
    std::unique_ptr<State> state_;
};

}  // namespace ringquell
