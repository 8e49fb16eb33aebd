// What a probe would pick up of a mode: how much of it stands between two nodes that can be touched, what the probe
// itself changes, and where to touch instead (docs/bench.md).
#pragma once

#include <complex>
#include <optional>
#include <string>
#include <utility>
#include <vector>

#include "ringquell/case.h"
#include "ringquell/modes.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// A mode that is worth measuring.
struct PickedMode {
    std::string why;  // "worst differential mode", "worst common mode", "growing mode"
    OperatingPoint point;
    Mode mode;
    bool by_blocks = false;  // Modes::by_blocks() of the point
};

/// At one point: of each kind the mode in the band that is nearest to its target or falls shortest of it, and what
/// grows fastest where that is neither of them.
std::vector<PickedMode> modes_at(const Case& input, const OperatingPoint& point);

/// How one position swings. Gate-source voltages, so that the greatest on a chip is 1 with a phase of 0.
struct SwingingPosition {
    int position = 0;           // from 1
    std::complex<double> chip;  // gate to source of the chip (a cascode's MOSFET)
    std::complex<double> pins;  // gate pin to Kelvin pin, or to source pin without one
};

/// What stands between two nodes while the gate-source voltage of the chip that swings most is 1 V.
struct PairView {
    std::string from, to;
    double volts = 0;      // amplitude; 0: the pair does not see the mode
    double phase_rad = 0;  // of v(from) − v(to), against that chip's
    /// By how much a differential probe must suppress, at the mode's frequency, a step of Pickup::step_v that both
    /// nodes make, so that what is left is as small as 1 V of ring on the chip shows: 20·log10(step_v/volts).
    /// Common practice, no source.
    std::optional<double> rejection_db;
    /// One of the nodes lies on the drain side, the other does not: the bus voltage stands between them.
    bool bus_voltage_across = false;
    /// One of the nodes is a chip's inside its package, where no probe reaches.
    bool inside_device = false;
    /// The same node of two alike positions: no common mode shows there.
    bool blind_to_common = false;
    /// Of alike positions one pair stands for all of its class.
    enum class StandsFor { itself, each_position, any_two_positions };
    StandsFor stands_for = StandsFor::itself;
};

struct PickupMode {
    PickedMode picked;
    /// Of equal modes the combination that the pair sees best (all others have a zero there), or, without a pair,
    /// the one in which one position swings as much as it can: of alike ones position 1 against the others.
    std::vector<SwingingPosition> positions;
    bool one_of_many = false;
    std::optional<PairView> view;  // of the pair that was asked for
    /// rad/s, with the probe hung on; empty without a probe, or where the mode could not be followed.
    std::optional<std::complex<double>> with_probe;
    std::vector<PairView>
        ranking;  // the pairs that see it best, strongest first; each sees its own combination
};

struct PickupOptions {
    /// Where the probe would hang: its nodes, and its values where they are known. Without nodes the ranking alone.
    std::optional<Probe> probe;
    size_t ranked = 10;  // at most
};

struct Pickup {
    std::string title;
    std::optional<Probe> probe;
    /// The bus voltage, or without one the greatest drain-source voltage of the modes' points; 0: no supply.
    double step_v = 0;
    bool alike = false;  // positions are
    std::vector<PickupMode> modes;
};

/// With x the right vector of λ·E·x = A·x, the view of a pair of nodes is bᵀ·x, b the column of a port there
/// (network.h). Accessible are pins, taps and rails, not the nodes of the chips. The mode is followed into the network
/// with the probe by letting the probe's capacitance and conductance grow from nothing. Throws InputError, key
/// `--between`, where a node is not there or both are one.
Pickup pickup(const Case& input, const std::vector<PickedMode>& modes, const PickupOptions& options = {});

/// λ of the network with the probe that the mode `eigenvalue` of the network without it becomes, as its capacitance and
/// conductance grow from nothing; empty where it is lost on the way. Of equal modes the one that the probe sees.
std::optional<std::complex<double>> eigenvalue_with_probe(const Case& input, const OperatingPoint& point,
                                                          const Probe& probe,
                                                          std::complex<double> eigenvalue);

}  // namespace ringquell
