// The command from outside: exit statuses, what goes where, and files that appear whole or not at all.
#include <doctest/doctest.h>
#include <sys/wait.h>
#include <unistd.h>

#include <Eigen/Core>
#include <algorithm>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "support/dense.h"
#include "support/relative.h"
#include "support/run_command.h"
#include "test_paths.h"

namespace fs = std::filesystem;
using nlohmann::json;

namespace {

const std::string cases = std::string(RINGQUELL_CASES) + "/";

std::string first_line(const std::string& text) {
    return text.substr(0, text.find('\n'));
}
bool contains(const std::string& text, const std::string& part) {
    return text.find(part) != std::string::npos;
}

std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const size_t at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

std::set<std::string> keys_of(const json& object) {
    std::set<std::string> out;
    for (const auto& [key, value] : object.items()) out.insert(key);
    return out;
}

void check_has(const json& object, const std::set<std::string>& wanted) {
    const std::set<std::string> found = keys_of(object);
    for (const std::string& key : wanted) {
        CAPTURE(key);
        CHECK(found.count(key) == 1);
    }
}

/// A dense matrix from a file in the Matrix Market coordinate form.
Eigen::MatrixXd read_matrix(const std::string& file) {
    std::istringstream in(content(file));
    std::string line;
    std::getline(in, line);
    REQUIRE(line == "%%MatrixMarket matrix coordinate real general");
    while (in.peek() == '%') std::getline(in, line);
    int rows = 0, columns = 0, entries = 0;
    in >> rows >> columns >> entries;
    REQUIRE(in);
    Eigen::MatrixXd out = Eigen::MatrixXd::Zero(rows, columns);
    for (int k = 0; k < entries; ++k) {
        int i = 0, j = 0;
        double value = 0;
        in >> i >> j >> value;
        REQUIRE(in);
        REQUIRE(i >= 1);
        REQUIRE(i <= rows);
        REQUIRE(j >= 1);
        REQUIRE(j <= columns);
        out(i - 1, j - 1) = value;
    }
    in >> std::ws;
    CHECK(in.eof());
    return out;
}

}  // namespace

TEST_CASE("the verdict comes first, and a passing case exits 0, a failing one 1") {
    struct Golden {
        const char* name;
        int status;
        const char* verdict;
    };
    for (const Golden& g : {
             Golden{"ropeway-first", 1,
                    "FAIL: ropeway brake inverter, as first laid out; 4 positions, 98 operating points"},
             Golden{"ropeway-cured", 0,
                    "PASS: ropeway brake inverter, with a bead in each gate path; 4 positions, 98 operating "
                    "points"},
             Golden{"ice-rink-cascode", 1,
                    "FAIL: ice rink compressor drive, three cascodes; 3 positions, 3 operating points"},
             Golden{"mine-hoist-bus", 1,
                    "FAIL: mine museum hoist, six MOSFETs along buses; 6 positions, 34 operating points"},
         }) {
        CAPTURE(g.name);
        const Ran ran = run("check '" + cases + g.name + ".yaml'");
        CHECK(ran.status == g.status);
        CHECK(first_line(ran.out) == g.verdict);
        CHECK(ran.err.empty());
        CHECK(contains(ran.out, "A DC link can kill"));
        const Ran quiet = run("check --quiet '" + cases + g.name + ".yaml'");
        CHECK(quiet.status == g.status);
        CHECK(quiet.out == std::string(g.verdict) + "\n");
    }
}

TEST_CASE(
    "the demonstration fails by a differential mode between tens and hundreds of MHz, and its cure raises no "
    "warning") {
    const json first = json::parse(run("check --json - '" + cases + "ropeway-first.yaml'").out);
    const json& worst = first["worst"]["differential"];
    CHECK(worst["damping_ratio"].get<double>() < first["requirement"]["differential_damping"].get<double>());
    CHECK(worst["natural_frequency_hz"].get<double>() > 20e6);
    CHECK(worst["natural_frequency_hz"].get<double>() < 500e6);
    const json cured = json::parse(run("check --json - '" + cases + "ropeway-cured.yaml'").out);
    CHECK(cured["verdict"] == "pass");
    CHECK(cured["warnings"].empty());
    // With margin: half as much damping again as is asked.
    CHECK(cured["worst"]["differential"]["damping_ratio"].get<double>() >
          1.5 * cured["requirement"]["differential_damping"].get<double>());
}

TEST_CASE("the advice of the demonstration holds: the preferred resistors pass") {
    const json first = json::parse(run("check --json - '" + cases + "ropeway-first.yaml'").out);
    const double on = first["gate_resistance"]["turn_on"]["preferred_ohm"].get<double>();
    const double off = first["gate_resistance"]["turn_off"]["preferred_ohm"].get<double>();
    const Ran ran =
        run("check '" + cases + "ropeway-first.yaml' --set gate_path.resistor.turn_on=" + std::to_string(on) +
            "ohm --set gate_path.resistor.turn_off=" + std::to_string(off) + "ohm");
    CHECK(ran.status == 0);
}

TEST_CASE("JSON has the documented keys, on standard output in place of the text, or in a file beside it") {
    const std::string file = "'" + cases + "ropeway-first.yaml'";
    const Ran on_output = run("check --json - " + file);
    CHECK(on_output.status == 1);
    CHECK(on_output.err.empty());
    const json result = json::parse(on_output.out);
    check_has(result, {"ringquell", "verb", "title", "verdict", "requirement", "points", "growing", "worst",
                       "gate_resistance", "warnings"});
    CHECK(result["verb"] == "check");
    CHECK(result["verdict"] == "fail");
    check_has(result["requirement"], {"differential_damping", "common_damping", "band_hz"});
    REQUIRE(result["points"].size() == 98);
    const json& point = result["points"][0];
    check_has(point, {"name", "edge", "vds_v", "current_a", "complementary", "modes"});
    CHECK(point["name"] == "turn_on current 0");
    const std::set<std::string> mode_keys{
        "kind", "common_share",         "multiplicity",         "real",
        "imag", "natural_frequency_hz", "ringing_frequency_hz", "damping_ratio"};
    double before = -1;
    for (const json& mode : point["modes"]) {
        check_has(mode, mode_keys);
        CHECK(mode["damping_ratio"].get<double>() >= before);  // least damped first
        before = mode["damping_ratio"].get<double>();
    }
    REQUIRE(!result["growing"].empty());
    check_has(result["growing"][0], {"point", "real", "imag", "natural_frequency_hz", "in_band"});
    check_has(result["worst"], {"differential", "common"});
    for (const char* edge : {"turn_on", "turn_off"})
        check_has(result["gate_resistance"][edge],
                  {"minimum_ohm", "preferred_ohm", "series", "acceptable_ohm", "bounded_by", "complete",
                   "passes_with_preferred"});
    CHECK(result["gate_resistance"]["turn_on"]["complete"] == true);

    Folder folder;
    const Ran to_file = run("check --json '" + folder / "r.json" + "' " + file);
    CHECK(to_file.status == 1);
    CHECK(first_line(to_file.out).starts_with("FAIL: "));
    CHECK(content(folder / "r.json") == on_output.out);
    CHECK(folder.entries() == 1);

    const json sizes = json::parse(run("size --json - " + file).out);
    CHECK(sizes["verb"] == "size");
    CHECK(sizes["gate_resistance"] == result["gate_resistance"]);
    CHECK(run("size " + file).status == 0);  // it has no verdict
}

TEST_CASE("a change with --set gives what the edited file gives") {
    Folder folder;
    const std::string original = content(cases + "ropeway-first.yaml");
    write(folder / "edited.yaml", replaced(replaced(original, "inductance: 9 nH", "inductance: 11 nH"),
                                           "turn_on: 3.3 ohm", "turn_on: 5R6"));
    write(folder / "original.yaml", original);
    const Ran edited = run("check --json - edited.yaml", folder.path.string());
    const Ran set =
        run("check --json - original.yaml --set gate_path.inductance=11nH --set "
            "gate_path.resistor.turn_on=5.6ohm",
            folder.path.string());
    CHECK(edited.status == set.status);
    CHECK(edited.out == set.out);
    CHECK(edited.out != run("check --json - original.yaml", folder.path.string()).out);
    // At one position alone, the layout is uneven.
    const json uneven = json::parse(
        run("check --json - original.yaml --set 'gate_path[2].inductance=11nH' --set operation.path.steps=2",
            folder.path.string())
            .out);
    CHECK(uneven["gate_resistance"]["turn_on"]["complete"] == true);
    CHECK(uneven["gate_resistance"]["turn_on"]["bounds"]["points"] == 5);
}

TEST_CASE("new writes a case that check accepts, and does not overwrite a file unasked") {
    Folder folder;
    const Ran made = run("new '" + folder / "board.yaml" + "'");
    CHECK(made.status == 0);
    CHECK(made.err.empty());
    const std::string starter = content(folder / "board.yaml");
    CHECK(run("new -").out == starter);
    const Ran checked = run("check '" + folder / "board.yaml" + "'");
    CHECK((checked.status == 0 || checked.status == 1));
    CHECK(checked.err.empty());
    write(folder / "board.yaml", "mine");
    const Ran again = run("new '" + folder / "board.yaml" + "'");
    CHECK(again.status == 2);
    CHECK(again.out.empty());
    CHECK(contains(again.err, "exists already"));
    CHECK(content(folder / "board.yaml") == "mine");
    CHECK(run("new --force '" + folder / "board.yaml" + "'").status == 0);
    CHECK(content(folder / "board.yaml") == starter);
    CHECK(folder.entries() == 1);
}

TEST_CASE(
    "exported matrices are Matrix Market files, and the explicit one has the modes that check reports") {
    Folder folder;
    for (const char* name : {"ropeway-cured", "ice-rink-cascode", "mine-hoist-bus"}) {
        CAPTURE(name);
        const std::string file = "'" + cases + name + ".yaml'";
        const json point = json::parse(run("check --json - " + file).out)["points"][2];
        const Ran ran = run("export " + file + " --point '" + point["name"].get<std::string>() + "' -o '" +
                            folder / name + "'");
        CHECK(ran.status == 0);
        CHECK(ran.err.empty());
        const Eigen::MatrixXd e = read_matrix(folder / name + std::string("/E.mtx"));
        const Eigen::MatrixXd a = read_matrix(folder / name + std::string("/A.mtx"));
        const Eigen::MatrixXd explicit_a = read_matrix(folder / name + std::string("/A_explicit.mtx"));
        CHECK(e.rows() == e.cols());
        CHECK(a.rows() == e.rows());
        CHECK(a.cols() == e.cols());
        CHECK(explicit_a.rows() == explicit_a.cols());
        CHECK(explicit_a.rows() < a.rows());
        CHECK(e.isApprox(e.transpose()));
        // Time in ns, so that the balance of the eigensolver is not what is tested.
        const Eigen::VectorXcd found = dense::eigenvalues(explicit_a * 1e-9) * 1e9;
        std::vector<std::complex<double>> left(found.data(), found.data() + found.size());
        for (const json& mode : point["modes"])
            for (int k = 0; k < mode["multiplicity"].get<int>(); ++k) {
                const std::complex<double> wanted(mode["real"].get<double>(), mode["imag"].get<double>());
                REQUIRE(!left.empty());
                const auto nearest = std::min_element(left.begin(), left.end(), [&](auto x, auto y) {
                    return std::abs(x - wanted) < std::abs(y - wanted);
                });
                CHECK_RELATIVE(*nearest, wanted, 1e-6);
                left.erase(nearest);
            }
    }
    const Ran no_point =
        run("export '" + cases + "ice-rink-cascode.yaml' --point nowhere -o '" + folder / "x" + "'");
    CHECK(no_point.status == 2);
    CHECK(no_point.err ==
          "ringquell: --point: found `nowhere`; expected one of `start of turn-off`, `voltage rise`, "
          "`voltage fall`\n");
    CHECK(!fs::exists(folder / "x"));
}

TEST_CASE("bad input exits 2, names the place, the key and what was expected, and prints no result") {
    Folder folder;
    const std::string good = content(cases + "ropeway-first.yaml");
    struct Bad {
        std::string from, to, error;
    };
    for (const Bad& bad : {
             Bad{"kelvin_path: {inductance", "kelvin_path: {inductence",
                 "ringquell: bad.yaml:19:15: kelvin_path.inductence: unknown key; did you mean "
                 "`inductance`?\n"},
             Bad{"kelvin_path: {inductance: 7 nH}", "kelvin_path: {inductance: 7}",
                 "ringquell: bad.yaml:19:27: kelvin_path.inductance: found `7`, expected an inductance such "
                 "as `12 nH` (a unit is missing)\n"},
             Bad{"kelvin_path: {inductance: 7 nH}", "kelvin_path: {inductance: 7 nF}",
                 "ringquell: bad.yaml:19:27: kelvin_path.inductance: found `7 nF`, expected an inductance "
                 "such as `12 nH` (`nF` is the unit of a capacitance)\n"},
             Bad{"positions: 4\n", "positions: 4\npositions: 4\n",
                 "ringquell: bad.yaml:8:1: positions: the key is given twice, first in line 7, column 1\n"},
             Bad{"positions: 4\n", "", "the key `positions` is missing"},
         }) {
        CAPTURE(bad.to);
        write(folder / "bad.yaml", replaced(good, bad.from, bad.to));
        const Ran ran = run("check --json r.json bad.yaml", folder.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        INFO("stderr: ", ran.err);
        if (bad.error.starts_with("ringquell"))
            CHECK(ran.err == bad.error);
        else
            CHECK(contains(ran.err, bad.error));
        CHECK(ran.err.starts_with("ringquell: bad.yaml:"));
        CHECK(folder.entries() == 1);
    }
    for (const char* arguments : {"check", "check nowhere.yaml", "chek nowhere.yaml",
                                  "check --jason - bad.yaml", "check bad.yaml --method magic", ""}) {
        CAPTURE(arguments);
        const Ran ran = run(arguments, folder.path.string());
        CHECK(ran.status == 2);
        CHECK(ran.out.empty());
        CHECK(!ran.err.empty());
    }
}

TEST_CASE("an output that cannot be written is an error that leaves nothing behind") {
    Folder folder;
    fs::create_directory(folder / "taken");
    const std::string file = "'" + cases + "ice-rink-cascode.yaml'";
    for (const std::string& target : {folder / "nowhere/r.json", folder / "taken"}) {
        const Ran ran = run("check --json '" + target + "' " + file);
        CHECK(ran.status == 2);
        CHECK(contains(ran.err, "could not be written"));
        CHECK(folder.entries() == 1);
        CHECK(fs::is_empty(folder / "taken"));
    }
    write(folder / "file", "mine");
    CHECK(run("export " + file + " -o '" + folder / "file" + "'").status == 2);
    CHECK(content(folder / "file") == "mine");
}

TEST_CASE("a margin below the numbers' own uncertainty is no verdict: exit status 3") {
    const std::string file = "'" + cases + "ropeway-cured.yaml'";
    const json result = json::parse(run("check --json - " + file).out);
    const std::string damping = result["worst"]["differential"]["damping_ratio"].dump();
    const Ran ran = run("check " + file + " --set require.differential_damping=" + damping);
    CHECK(ran.status == 3);
    CHECK(first_line(ran.out).starts_with("UNDECIDED: "));
    CHECK(contains(ran.out, "numerical uncertainty"));
}

TEST_CASE("help is on standard output, with an example for each verb") {
    const Ran help = run("--help");
    CHECK(help.status == 0);
    CHECK(help.err.empty());
    CHECK(contains(
        help.out,
        "0 passes, 1 fails the requirement, 2 the input is wrong, 3 the numbers could not be trusted"));
    for (const std::string verb : {"check", "size", "explain", "export", "new"}) {
        const Ran ran = run(verb + " --help");
        CHECK(ran.status == 0);
        CHECK(contains(ran.out, "Example: ringquell " + verb));
        CHECK(contains(help.out, verb));
    }
    CHECK(run("--version").out.starts_with("ringquell "));
}

TEST_CASE("the README shows what the command prints") {
    const std::string readme = content(RINGQUELL_README);
    for (const std::string name : {"ropeway-first", "ropeway-cured"}) {
        const std::string arguments = "check cases/" + name + ".yaml";
        const size_t at = readme.find("$ ringquell " + arguments + "\n");
        REQUIRE(at != std::string::npos);
        const size_t begin = readme.find('\n', at) + 1, end = readme.find("```", begin);
        CHECK(run(arguments, std::string(RINGQUELL_CASES) + "/..").out == readme.substr(begin, end - begin));
    }
}
