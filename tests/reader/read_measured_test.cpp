// What is worked out while reading: inductances from shapes, beads from measured curves.
#include <unistd.h>

#include <filesystem>
#include <fstream>
#include <iomanip>
#include <numbers>

#include "ringquell/bead_fit.h"
#include "ringquell/inductance.h"
#include "ringquell/write_case.h"
#include "support/case_text.h"
#include "support/relative.h"
#include "test_paths.h"

using namespace ringquell;
using case_text::base, case_text::contains, case_text::error_of, case_text::read, case_text::replaced;

namespace {

const std::string bead_csv = std::string(RINGQUELL_TEST_DATA) + "/bead-invented.csv";

std::string with_bead(const std::string& bead) {
    return replaced(base, "inductance: 7 nH", "inductance: 7 nH, bead: " + bead);
}

const Warning* warning_of(const Case& in, const std::string& key) {
    for (const Warning& w : in.warnings)
        if (w.key == key) return &w;
    return nullptr;
}

/// Of this process alone.
std::filesystem::path temporary(const std::string& name) {
    return std::filesystem::temp_directory_path() / (std::to_string(::getpid()) + name);
}

/// What tests/data/bead-invented.csv was computed from.
const Bead invented{"", 0.08, 1.2e-12, {{180, 0.9e-6}, {420, 6e-6}}, {}};

double worst_relative_error(const Bead& found) {
    double worst = 0;
    for (double f = 1e6; f <= 100e6; f *= 1.1) {
        const std::complex<double> s(0, 2 * std::numbers::pi * f);
        worst = std::max(worst,
                         relative_difference(bead_impedance_ohm(found, s), bead_impedance_ohm(invented, s)));
    }
    return worst;
}

}  // namespace

TEST_CASE("an inductance given by its shape is what inductance.h makes of it, and a list adds up in series") {
    const Case in = read(replaced(
        replaced(base, "inductance: 9 nH",
                 "inductance: {over_plane: {length: 40 mm, width: 12 mm, height: 0.4 mm, thickness: "
                 "70 um}}"),
        "inductance: 5 nH}",
        "inductance: [1 nH, {round_wire: {length: 8 mm, diameter: 0.4 mm, count: 2, spacing: 1 mm}}, "
        "{via: {height: 1.6 mm, diameter: 0.5 mm}}]}"));
    CHECK(in.power_loop.inductance_h == inductance_of(OverPlane{40e-3, 12e-3, 0.4e-3, 70e-6}).inductance_h);
    CHECK_RELATIVE(in.positions[1].kelvin_path->inductance_h,
                   1e-9 + inductance_of(RoundWire{8e-3, 0.4e-3, 2, 1e-3}).inductance_h +
                       inductance_of(Via{1.6e-3, 0.5e-3, 1}).inductance_h,
                   1e-15);
    const Case bar = read(base, {"power_loop.inductance={flat_bar: {length: 50 mm, width: 6 mm, thickness: 1 "
                                 "mm}}"});
    CHECK(bar.power_loop.inductance_h == inductance_of(FlatBar{50e-3, 6e-3, 1e-3}).inductance_h);
    CHECK(read(write_case(bar)).power_loop.inductance_h == bar.power_loop.inductance_h);
}

TEST_CASE("a list of shapes stands for every segment of a rail, one for each where there are as many") {
    const std::string rail = base + "buses: {drain: {inductance: ";
    const double via = inductance_of(Via{1e-3, 0.5e-3, 1}).inductance_h;
    const std::string shape = "{via: {height: 1 mm, diameter: 0.5 mm}}";
    const auto segments = [&](const std::string& value) {
        return read(rail + value + "}}\n").bus(Rail::drain)->inductance_h;
    };
    CHECK(segments(shape) == std::vector{via, via});
    CHECK(segments("[" + shape + ", " + shape + ", " + shape + "]") == std::vector{3 * via, 3 * via});
    CHECK(segments("[1 nH, " + shape + "]") == std::vector{1e-9, via});
}

TEST_CASE("a shape outside its range of validity is a warning, a slip in it an error at its place") {
    const auto power_loop = [](const std::string& shape) {
        return replaced(base, "inductance: 9 nH", "inductance: " + shape);
    };
    const FlatBar stub{1e-3, 20e-3, 1e-3};
    REQUIRE(!inductance_of(stub).warnings.empty());
    const Case in = read(power_loop("{flat_bar: {length: 1 mm, width: 20 mm, thickness: 1 mm}}"));
    const Warning* warning = warning_of(in, "power_loop.inductance.flat_bar");
    REQUIRE(warning != nullptr);
    CHECK(warning->text == inductance_of(stub).warnings.front());

    CHECK(error_of(power_loop("{over_plain: {}}")) ==
          "a.yaml:13:16: power_loop.inductance.over_plain: unknown shape; did you mean `over_plane`?");
    CHECK(error_of(power_loop("{via: {height: 1 mm, diametre: 1 mm}}")) ==
          "a.yaml:13:36: power_loop.inductance.via.diametre: unknown key; did you mean `diameter`?");
    CHECK(contains(error_of(power_loop("{via: {height: 1 nH}}")), "power_loop.inductance.via.height: "));
    CHECK(contains(error_of(power_loop("{via: {height: -1 mm, diameter: 1 mm}}")),
                   "a.yaml:13:21: power_loop.inductance.via.height: "));
    CHECK(contains(error_of(power_loop("{}")), "expected one shape, such as"));
    CHECK(contains(error_of(power_loop("[]")), "expected inductances in series"));
}

TEST_CASE("a bead given by its curve is fitted, and written as sections that read back") {
    const Case in = read(with_bead("{curve: " + bead_csv +
                                   ", dc_resistance: 80 mohm, saturation: [[0 A, 1], "
                                   "[2 A, 40 %]]}"),
                         {"require.band=[1 MHz, 100 MHz]"});
    const Bead& bead = *in.positions[2].gate_path.bead;
    CHECK(bead.name == bead_csv);
    CHECK(bead.dc_resistance_ohm == 0.08);
    CHECK(bead.saturation.at(1) == std::pair{2.0, 0.4});
    CHECK(worst_relative_error(bead) < 1e-3);
    CHECK(warning_of(in, "gate_path.bead.curve") == nullptr);
    const Case back = read(write_case(in));
    CHECK(back.positions == in.positions);
}

TEST_CASE("a bead's curve may stand in a part file, relative to it, and keys beside the file override it") {
    const std::filesystem::path folder = temporary("ringquell_read_measured");
    std::filesystem::create_directories(folder / "parts");
    std::filesystem::copy_file(bead_csv, folder / "parts" / "b.csv",
                               std::filesystem::copy_options::overwrite_existing);
    std::ofstream(folder / "parts" / "bead.yaml") << "curve: b.csv\ndc_resistance: 80 mohm\n";
    const std::string file = (folder / "a.yaml").string();
    std::ofstream(file) << with_bead("{file: parts/bead.yaml, saturation: [[1 A, 50 %]]}");
    const Case in = read_case(file);
    const Bead& bead = *in.positions[0].gate_path.bead;
    CHECK(bead.name == "parts/bead.yaml");
    CHECK(worst_relative_error(bead) < 1e-3);
    CHECK(bead.saturation.size() == 1);
    // Another form at one position takes the curve's place.
    const Case other = read_case(file, {"gate_path[2].bead={resistance: 60 ohm, inductance: 80 nH}"});
    CHECK(other.positions[1].gate_path.bead->sections == std::vector<BeadSection>{{60, 80e-9}});
    CHECK(*other.positions[2].gate_path.bead == bead);
    std::filesystem::remove_all(folder);
}

TEST_CASE("a bead is fitted over the required band, and a fit that misses the data is a warning") {
    const std::string narrow = replaced(with_bead("{curve: " + bead_csv + "}"), "differential_damping: 0.1",
                                        "differential_damping: 0.1, band: [200 MHz, 210 MHz]");
    CHECK(contains(error_of(narrow), "bead-invented.csv: "));
    CHECK(contains(error_of(narrow), "expected at least 4"));

    const std::string noisy = temporary("ringquell_noisy.csv").string();
    {
        std::ofstream out(noisy);
        out << "f_MHz,R_ohm,X_ohm\n";
        for (int i = 0; i < 30; ++i)
            out << 1 + 3 * i << ',' << (i % 2 ? 60 : 90) << ',' << (i % 3 ? 40 : 80) << '\n';
    }
    const Case in = read(with_bead("{curve: " + noisy + ", dc_resistance: 0 ohm}"));
    bool rms = false;
    for (const Warning& w : in.warnings)
        rms = rms || (w.key == "gate_path.bead.curve" && contains(w.text, "% rms"));
    CHECK(rms);
    std::filesystem::remove(noisy);
}

TEST_CASE("what was mended in a bead's file, and a curve short of the band, are among the case's warnings") {
    const std::string file = temporary("ringquell_joined.csv").string();
    {
        std::ofstream out(file);
        out << "f_MHz,R_ohm,X_ohm\n";
        const auto row = [&](double f_mhz) {
            const std::complex<double> z = bead_impedance_ohm(invented, {0, 2e6 * std::numbers::pi * f_mhz});
            out << std::setprecision(17) << f_mhz << ',' << z.real() << ',' << z.imag() << '\n';
        };
        for (const double f : {2.0, 4.0, 8.0, 15.0, 15.0, 30.0, 60.0}) row(f);
    }
    const auto texts = [&](const std::vector<std::string>& settings) {
        std::vector<std::string> out;
        for (const Warning& w :
             read(with_bead("{curve: " + file + ", dc_resistance: 80 mohm}"), settings).warnings)
            if (w.key == "gate_path.bead.curve") out.push_back(w.text.substr(file.size() + 2));
        return out;
    };
    const std::string joined =
        "line 6 has the frequency of the row before it, 15 MHz: the mean of both is used";
    CHECK(texts({"require.band=[2 MHz, 60 MHz]"}) == std::vector{joined});
    CHECK(texts({"require.band=[1 MHz, 90 MHz]"}) ==
          std::vector<std::string>{joined,
                                   "the data begins at 2 MHz, 2 times the lower end of require.band, 1 MHz: "
                                   "below it the bead is a guess",
                                   "the data ends at 60 MHz, and the upper end of require.band, 90 MHz, is "
                                   "1.5 times that: above it the bead is a guess"});
    // The band that is judged where none is given ends at 300 MHz.
    CHECK(
        texts({}).back() ==
        "the data ends at 60 MHz, and the upper end of require.band, 300 MHz, is 5 times that: above it the "
        "bead is a guess");
    std::filesystem::remove(file);
}

TEST_CASE("a curve excludes the keys that it replaces, and its file must be there") {
    CHECK(error_of(with_bead("{curve: b.csv, resistance: 1 ohm}")) ==
          "a.yaml:9:83: gate_path.bead.resistance: found beside `curve`, which replaces it");
    CHECK(contains(error_of(with_bead("{curve: missing.csv}")), "a.yaml:9:"));
    CHECK(contains(error_of(with_bead("{curve: missing.csv}")), "missing.csv"));
}
