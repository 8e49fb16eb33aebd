// What a number of the case file is: its unit, its sign, whether it must be there.
#pragma once

#include "ringquell/quantity.h"

namespace ringquell::internal {

enum class Sign { any, not_negative, positive };

struct NumberSpec {
    Dimension dimension;
    Sign sign = Sign::not_negative;
    bool mandatory = false;
};

constexpr NumberSpec mandatory(NumberSpec spec) {
    spec.mandatory = true;
    return spec;
}
constexpr NumberSpec positive(NumberSpec spec) {
    spec.sign = Sign::positive;
    return spec;
}
constexpr NumberSpec any_sign(NumberSpec spec) {
    spec.sign = Sign::any;
    return spec;
}

inline constexpr NumberSpec ohms{Dimension::resistance};
inline constexpr NumberSpec henries{Dimension::inductance};
inline constexpr NumberSpec farads{Dimension::capacitance};
inline constexpr NumberSpec siemens{Dimension::conductance};
inline constexpr NumberSpec volts{Dimension::voltage};
inline constexpr NumberSpec amperes{Dimension::current};
inline constexpr NumberSpec seconds{Dimension::time};
inline constexpr NumberSpec hertz{Dimension::frequency};
inline constexpr NumberSpec degrees_celsius{Dimension::temperature, Sign::any};
inline constexpr NumberSpec plain{Dimension::number};
inline constexpr NumberSpec fraction{Dimension::share};

}  // namespace ringquell::internal
