// Equality of cases but for the file they came from and the warnings.
#pragma once

#include "ringquell/case.h"

inline bool same_case(const ringquell::Case& a, const ringquell::Case& b) {
    return a.title == b.title && a.positions == b.positions && a.buses == b.buses && a.driver == b.driver &&
           a.power_loop == b.power_loop && a.couplings == b.couplings && a.operation == b.operation &&
           a.require == b.require && a.spread == b.spread && a.measured == b.measured;
}
