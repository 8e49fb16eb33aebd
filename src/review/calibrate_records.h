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

/// Modes beside a ring, in their order; the most visible one's view is 1.
std::vector<ModeBesideRing> beside(const std::vector<SeenMode>& modes, const RingData& ring);

}  // namespace ringquell::internal
