// One record of a bench file.
#pragma once

#include <utility>
#include <vector>

#include "reader/document.h"
#include "reader/read_context.h"
#include "ringquell/bench_file.h"

namespace ringquell::internal {

/// `between: [a, b]`: two nodes by their names, which only the network knows.
std::pair<std::string, std::string> read_between(const Node& node, const std::string& path);

/// Record `number` (from 1). Names its file without reading it.
BenchRecord read_bench_record(const Node& node, size_t number, const std::vector<Probe>& probes,
                              ReadContext& context);

}  // namespace ringquell::internal
