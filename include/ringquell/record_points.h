// Where on the path of its case a record of the bench belongs, and what the board is while it is taken.
#pragma once

#include "ringquell/bench_file.h"
#include "ringquell/operating_path.h"

namespace ringquell {

/// The point of a record: the board without supply, the point of that name on `path` (operating_path() of the
/// case), or a point that the record gives, made as an explicit point of the case is, at its first junction
/// temperature. Throws InputError at the record where the path has no such point (with the nearest) or where it
/// cannot be.
OperatingPoint locate(const BenchRecord& record, const Case& input, const OperatingPath& path);
/// The same without the rest of the path, which is computed only to say what is near.
OperatingPoint locate(const BenchRecord& record, const Case& input);

/// The case while a record is taken: with its probe hung on, and a driver without supply where the record says so.
Case while_measured(const Case& input, const BenchFile& bench, const BenchRecord& record);

}  // namespace ringquell
