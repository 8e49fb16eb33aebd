// What dv/dt does to a gate that is held.
#pragma once

#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

/// The most that a current C_gd·dv/dt, flowing for `time_s` into C_gs + C_gd beside (R + the sections of a
/// bead in series), raises a gate, in V. Without sections: R·C_gd·dv/dt·(1 − exp(−t/(R·(C_gs + C_gd)))).
double induced_rise_v(double cgs_f, double cgd_f, double dv_dt_v_per_s, double time_s, double resistance_ohm,
                      const std::vector<BeadSection>& sections = {});

}  // namespace ringquell::internal
