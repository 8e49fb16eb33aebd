// A result as text for people and as JSON for machines.
#pragma once

#include <string>

#include "ringquell/check.h"
#include "ringquell/network_echo.h"
#include "ringquell/vary.h"

namespace ringquell {

/// The version that results carry.
extern const char* const version;

/// What a screening like this cannot do, and what the reader must not do because of it.
extern const char* const caution;

/// The text a reviewer reads. `quiet`: the verdict line alone.
std::string check_text(const CheckResult& result, bool quiet = false);
/// Every point with the device values that were used.
std::string points_text(const CheckResult& result);
/// The modes by name: where each is seen, its least damping, and where two cross, meet or end.
std::string families_text(const CheckResult& result);
/// JSON as docs/case-file.md describes; SI units, frequencies in Hz, eigenvalues in rad/s.
/// With the network's echo where it is given.
std::string check_json(const CheckResult& result, const std::optional<NetworkEcho>& echo = {});
/// The gate resistor's windows alone (verb `size`).
std::string size_text(const CheckResult& result, bool quiet = false);
std::string size_json(const CheckResult& result);

/// The windows of any number, and the table of all layout numbers (verb `size`).
std::string vary_text(const Varied& varied);
std::string vary_json(const Varied& varied);
std::string budget_text(const std::vector<Varied>& budget);
std::string budget_json(const std::vector<Varied>& budget);

}  // namespace ringquell
