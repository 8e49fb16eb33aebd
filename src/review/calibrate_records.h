// The records of a bench file in numbers, and what is said of them.
#pragma once

#include <vector>

#include "bench/map_fit.h"
#include "ringquell/calibrate.h"

namespace ringquell::internal {

struct ReadRecords {
    std::vector<CalibratedRecord> said;
    std::vector<RecordTarget> targets;
};

/// Reads waveforms (fitted) and impedances. Throws InputError.
ReadRecords read_records(const BenchFile& bench);

/// A mode beside a ring.
ModeBesideRing beside(const SeenMode& mode, double greatest_view, const RingData& ring);

}  // namespace ringquell::internal
