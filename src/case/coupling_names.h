// What a coupling can name: each inductance's name, its element in the network, what an index behind it
// counts and where the case keeps its value. The only such table: reader, network, windows and samples ask
// it.
#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "ringquell/case.h"

namespace ringquell::internal {

/// What an index behind a name counts. `drivers`: positions where each has its own driver, else nothing.
enum class Counts { positions, segments, drivers, nothing };

struct CoupledInductance {
    const char* name;  // "dc_link"
    /// "power_loop.dc_link.esl"; of a rail "buses.drain", whose segment is "[2].inductance".
    const char* element;
    Counts counts;
    /// In henries, of a position or segment counted from 0 (shared parts: any); 0 where the case has none.
    double (*value_h)(const Case&, size_t index);
};

/// Null where no inductance has this name.
const CoupledInductance* coupled_inductance(std::string_view name);
/// All names, for messages.
std::vector<std::string> coupled_names();

/// True where an index behind the name counts positions in a case with this driver.
bool counts_positions(const CoupledInductance& inductance, const Driver& driver);

/// True where the case gives an inductance above zero at any place that the name stands for; a network may
/// lack it all the same (the other edge's, one of a string that a capacitance of zero opens).
bool has_inductance(const Case& input, const InductanceName& name);

/// True where `key` ("gate_path[2].inductance", "buses.drain.inductance") is the value of what the name
/// stands for, at any position or segment.
bool is_value_of(const std::string& key, const InductanceName& name);

/// `gate_path`, `gate_path[2]`
std::string written(const InductanceName& name);

}  // namespace ringquell::internal
