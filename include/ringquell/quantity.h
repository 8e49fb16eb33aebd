// A number with its unit, as text: `4.7 ohm`, `12nH`, `125 degC`, `15 %`, `4R7`. Everything inside is SI.
#pragma once

#include <string>
#include <string_view>

#include "ringquell/error.h"

namespace ringquell {

/// What a number measures; its unit in SI, and on the right the units that a text may use.
enum class Dimension {
    resistance,   // ohm, or the code of IEC 60062 (4R7)
    inductance,   // H
    capacitance,  // F
    conductance,  // S
    voltage,      // V
    current,      // A
    time,         // s
    frequency,    // Hz
    length,       // m
    temperature,  // degC, no prefix
    per_volt,     // /V
    per_kelvin,   // /K; a bare number and % too
    share,        // a bare number, or %
    number,       // a bare number
};

/// Reads a quantity, correctly rounded, in SI (degC for a temperature). SI prefixes f p n u m k M G; Ω and µ
/// in both of their code points. Throws InputError at `place` and `key`: unit missing or wrong, not finite,
/// no number.
double parse_quantity(std::string_view text, Dimension dimension, const Place& place = {},
                      const std::string& key = {});

/// `a resistance such as `4.7 ohm``: what parse_quantity expects.
std::string expected_text(Dimension dimension);

/// The SI unit: `ohm`, `H`, ...; empty for share and number.
std::string_view unit_name(Dimension dimension);

/// In the base unit, with as many digits (17 at most) as it takes to read back the same double: `4.7e-09 H`.
std::string write_quantity(double value, Dimension dimension);

/// For people, with a prefix and `digits` significant digits, trailing zeros dropped: `4.7 ohm`, `12 nH`, `15
/// %`.
std::string engineering(double value, Dimension dimension, int digits = 4);

}  // namespace ringquell
