// From the bench back into the case (docs/bench.md).
#pragma once

#include <cstdint>

#include "ringquell/calibration.h"

namespace ringquell {

struct CalibrateOptions {
    bool next = true;
    std::int64_t samples = 0;  // of both pass shares; 0: none
    int threads = 1;
};

/// `input`: the case that the bench file names. Throws InputError where a record does not fit the case (a point or node
/// that is not there), NumericalError where nothing can be computed.
Calibration calibrate(const Case& input, const BenchFile& bench, const CalibrateOptions& options = {});

}  // namespace ringquell
