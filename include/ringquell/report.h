// A result as text for people and as JSON for machines.
#pragma once

#include <map>
#include <optional>
#include <string>
#include <vector>

#include "ringquell/check.h"
#include "ringquell/vary.h"
#include "ringquell/version.h"

namespace ringquell {

struct BeadFit;
struct Calibration;
struct CheckedCase;
struct Choice;
struct Comparison;
struct Corners;
struct Cure;
struct EchoedPosition;
struct Explanation;
struct Inductance;
struct NetworkEcho;
struct Pickup;
struct ResistanceForShare;
struct Scattering;
struct SpreadResult;

/// What a screening like this cannot do, and what the reader must not do because of it.
extern const char* const caution;

/// The text a reviewer reads. `quiet`: the verdict line alone. `plot`, as damping_plot() makes it, stands
/// after the verdict and what was asked.
std::string check_text(const CheckResult& result, bool quiet = false, const std::string& plot = "");
/// Every point with the device values that were used.
std::string points_text(const CheckResult& result);
/// The modes by name: where each is seen, its least damping, and where two cross, meet or end.
std::string families_text(const CheckResult& result);
/// JSON as docs/json.md describes; SI units, frequencies in Hz, eigenvalues in rad/s.
/// With the network's echo where it is given.
std::string check_json(const CheckResult& result, const NetworkEcho* echo = nullptr);
/// The requirement's lines as a Markdown checklist, with reasons, warnings and places to sign.
std::string check_markdown(const CheckResult& result);
/// The requirement's lines as JUnit XML: a test case each, failed where it is missed. `file`: the case's
/// name.
std::string check_junit(const CheckResult& result, const std::string& file);
/// The `testsuite` alone, for a document of many.
std::string check_junit_suite(const CheckResult& result, const std::string& file);
/// Many cases (check_many.h): a table with what was wrong below it; `quiet`: a line each. As one document each
/// of the formats above, from the cases' `document`: of check_markdown(), of check_junit_suite().
std::string cases_text(const std::vector<CheckedCase>& cases, bool quiet = false);
std::string cases_json(const std::vector<CheckedCase>& cases);
std::string cases_markdown(const std::vector<CheckedCase>& cases);
std::string cases_junit(const std::vector<CheckedCase>& cases);
/// Least damping of each kind at the judged points, as a plot of `width` columns (UTF-8); empty where that is
/// too narrow or nothing oscillates.
std::string damping_plot(const CheckResult& result, int width);
/// The gate resistor's windows alone (verb `size`).
std::string size_text(const CheckResult& result, bool quiet = false);
std::string size_json(const CheckResult& result);

/// Two cases side by side (compare.h): what differs in, and what out.
std::string compare_text(const Comparison& comparison, bool quiet = false);
std::string compare_json(const Comparison& comparison);

/// The least changes that pass (cure.h). `written`: the file of the cured case; empty: none.
std::string cure_text(const Cure& cure, const std::string& written, bool quiet = false);
std::string cure_json(const Cure& cure, const std::string& written);

/// What records say of the case (calibrate.h). `written`: the file of the calibrated case; empty: none.
std::string calibrate_text(const Calibration& calibration, const std::string& written, bool quiet = false);
std::string calibrate_json(const Calibration& calibration, const std::string& written);

/// The windows of any number, and the table of all layout numbers (verb `size`).
std::string vary_text(const Varied& varied);
std::string vary_json(const Varied& varied);
std::string budget_text(const std::vector<Varied>& budget);
std::string budget_json(const std::vector<Varied>& budget);

/// What is joined to what (network_echo.h).
std::string network_text(const NetworkEcho& echo);
/// "; beside it the bead: gate_path.bead, 300 nH beside 120 ohm", or nothing: goes behind the loop
/// inductance.
std::string beside_loop(const EchoedPosition& position);

/// The worst modes element by element (explain.h).
std::string explain_text(const Explanation& explanation, bool quiet = false);
std::string explain_json(const Explanation& explanation);

/// The table of beads and resistors (choose.h).
std::string choose_text(const Choice& choice, bool quiet = false);
std::string choose_json(const Choice& choice);

/// Shares, bounds and the worst sample (spread.h). `worst_file`: where that was written; empty: nowhere.
std::string spread_text(const SpreadResult& result, const std::vector<ResistanceForShare>& resistances,
                        const std::optional<Corners>& corners, const std::string& worst_file,
                        bool quiet = false);
std::string spread_json(const SpreadResult& result, const std::vector<ResistanceForShare>& resistances,
                        const std::optional<Corners>& corners, const std::string& worst_file);
/// A fit to the measured `file` (verb `bead`): its errors, its elements and some of its points; `quiet`: the
/// errors alone. As a part file that a case names with `bead: {file: ...}`.
std::string bead_text(const BeadFit& fit, bool quiet = false);
std::string bead_json(const BeadFit& fit, const std::string& file);
std::string bead_part(const BeadFit& fit, const std::string& file);

/// Scattering parameters (ports.h) as a Touchstone 1.1 file (specification of the IBIS Open Forum), in real and
/// imaginary part; comments name ports and point. `origin`: of which case.
std::string touchstone_text(const Scattering& scattering, const std::string& origin);

/// What a probe would pick up (pickup.h). `file`: the case's; `quiet`: a line for each mode.
std::string pickup_text(const Pickup& result, const std::string& file, bool quiet = false);
std::string pickup_json(const Pickup& result, const std::string& file);

/// One shape's number, its formula, source and range (verb `inductance`); `quiet`: the number alone.
/// `dimensions_m`: by name.
std::string inductance_text(const Inductance& result, bool quiet = false);
std::string inductance_json(const std::string& shape, const std::map<std::string, double>& dimensions_m,
                            const Inductance& result);

}  // namespace ringquell
