// Scattering parameters at ports of the board: closed forms, passivity, and back through our own reader.
#include <doctest/doctest.h>

#include <Eigen/LU>
#include <Eigen/SVD>
#include <cmath>
#include <complex>
#include <numbers>

#include "ringquell/impedance_file.h"
#include "ringquell/operating_path.h"
#include "ringquell/ports.h"
#include "ringquell/report.h"
#include "support/case_text.h"
#include "support/curve_cases.h"
#include "support/files.h"
#include "support/relative.h"
#include "support/run_command.h"

using namespace ringquell;
using case_text::contains;

namespace {

using Complex = std::complex<double>;
constexpr double pi = std::numbers::pi;

const PortNodes gate_port{{"gate pin[1]", "Kelvin pin[1]"}};

Complex impedance_of(Complex s, double reference) {
    return reference * (1.0 + s) / (1.0 - s);
}

/// One position whose gate loop hangs on nothing else: no capacitance to the drain.
Case lone_gate() {
    return case_text::read(
        case_text::replaced(case_text::base, "cgd: 14 pF, cds: 190 pF", "cgd: 0 F, cds: 0 F"),
        {"positions=1"});
}

}  // namespace

TEST_CASE("the gate port of a board without supply is chip and leads beside path and driver, to 1e-10") {
    const Case input = lone_gate();
    const std::vector<double> hz{1e6, 1e7, 1e8, 1e9};
    const Scattering s = scattering(input, unpowered_point(input), gate_port, hz);
    for (size_t k = 0; k < hz.size(); ++k) {
        const Complex w(0, 2 * pi * hz[k]);
        const Complex chip = 1.1 + w * (5e-9 + 4e-9) + 1.0 / (w * 2.3e-9);
        // The turn-off side has no bypass: an ideal supply.
        const Complex outside = 4.7 + 0.5 + w * (7e-9 + 5e-9);
        const Complex expected = 1.0 / (1.0 / chip + 1.0 / outside);
        CHECK_RELATIVE(impedance_of(s.s[k](0, 0), 50), expected, 1e-10);
    }
}

TEST_CASE("two ports of a resistive divider between pins are its closed form") {
    // Gate and Kelvin pin of two positions, joined through both gate paths and the driver.
    const Case input = lone_gate();
    const PortNodes both{{"gate pin[1]", "Kelvin pin[1]"}, {"gate rail", "kelvin rail"}};
    const double hz = 37e6;
    const Scattering s = scattering(input, unpowered_point(input), both, {hz});
    const Complex w(0, 2 * pi * hz);
    const Complex chip = 1.1 + w * 9e-9 + 1.0 / (w * 2.3e-9), path = 4.7 + w * 12e-9, driver = 0.5;
    // In a loop chip, path, driver: Z11 = chip ‖ (path + driver), Z22 = driver ‖ (path + chip), Z12 = chip·driver/sum.
    const Complex sum = chip + path + driver;
    Eigen::Matrix2cd z;
    z << chip * (path + driver) / sum, chip * driver / sum, chip * driver / sum, driver * (path + chip) / sum;
    const Eigen::Matrix2cd r = 50 * Eigen::Matrix2cd::Identity();
    const Eigen::Matrix2cd expected = (z - r) * (z + r).inverse();
    for (int i = 0; i < 2; ++i)
        for (int j = 0; j < 2; ++j) CHECK_RELATIVE(s.s[0](i, j), expected(i, j), 1e-10);
}

TEST_CASE("boards without supply are passive and reciprocal at every port") {
    for (const char* name : {"ropeway-first", "sawmill-row", "mine-hoist-bus", "ski-lift-curves",
                             "ice-rink-cascode", "snow-gun-cascode", "tunnel-fan-cascode"}) {
        CAPTURE(name);
        const Case input = test_files::demonstration(name);
        const PortNodes ports{{"gate pin[1]", "Kelvin pin[1]"},
                              {"drain pin[2]", "source pin[2]"},
                              {"gate pin[1]", "gate pin[2]"}};
        std::vector<double> hz;
        for (int k = 0; k <= 30; ++k) hz.push_back(1e5 * std::pow(10, k / 6.0));
        for (const Eigen::MatrixXcd& s : scattering(input, unpowered_point(input), ports, hz).s) {
            CHECK(s.jacobiSvd().singularValues()(0) <= 1 + 1e-9);
            CHECK((s - s.transpose()).norm() <= 1e-9 * s.norm());
        }
    }
}

TEST_CASE("without supply MOSFETs are off, and a cascode's JFET conducts as its curve has it at 0 V") {
    const OperatingPoint mosfet =
        unpowered_point(case_text::read(curve_cases::mosfets(curve_cases::formula)));
    CHECK(mosfet.devices.front().mosfet.transconductance_s == 0);
    CHECK(mosfet.devices.front().mosfet.output_conductance_s == 0);
    const OperatingPoint cascode = unpowered_point(case_text::read(curve_cases::cascodes()));
    CHECK(cascode.devices.front().mosfet.output_conductance_s == 0);
    // I = gain·(vgs − threshold)^exponent·(1 + slope·vds)·tanh(vds/knee): dI/dvds at 0 V.
    const double expected = 6.8 * std::pow(8.5, 1.8) / 5;
    CHECK_RELATIVE(cascode.devices.front().jfet.output_conductance_s, expected, 1e-9);
    CHECK(cascode.devices.front().jfet.transconductance_s == 0);
}

TEST_CASE("without supply a position with a temperature of its own is as warm as the room") {
    const std::vector<std::string> warm{"device.gate_resistance={value: 1.1 ohm, per_kelvin: 0.5 %}",
                                        "junction_temperature[2]=140 degC"};
    const OperatingPoint point = unpowered_point(case_text::read(case_text::base, warm));
    for (int k = 0; k < 3; ++k) CHECK(point.device(k).gate_resistance_ohm == 1.1);
    CHECK(point.position_temperatures_degc.empty());
}

TEST_CASE("what is written is read back to the impedance that it was made of") {
    const Folder folder;
    const Case input = test_files::demonstration("ropeway-first");
    std::vector<double> hz;
    for (int k = 0; k <= 20; ++k) hz.push_back(1e6 * std::pow(10, k / 10.0));
    const OperatingPoint point = unpowered_point(input);
    const Scattering s = scattering(input, point, gate_port, hz);
    write(folder.path / "gate.s1p", touchstone_text(s, "ropeway-first"));
    const std::vector<ImpedancePoint> read = read_impedance_file(folder / "gate.s1p");
    REQUIRE(read.size() == hz.size());
    NetworkOptions options;
    options.ports = gate_port;
    const Network network = build_network(input, point, options);
    for (size_t k = 0; k < hz.size(); ++k) {
        const Complex z = port_impedance(network, {0, 2 * pi * hz[k]})(0, 0);
        CHECK_RELATIVE(read[k].impedance_ohm, z, 1e-9);
    }
}

TEST_CASE("two ports stand in the order 11 21 12 22, three row by row") {
    const Case input = test_files::demonstration("ropeway-first");
    const OperatingPoint point = operating_path(input).points[5];
    const PortNodes two{{"gate pin[1]", "Kelvin pin[1]"}, {"drain pin[1]", "source pin[1]"}};
    const Scattering s = scattering(input, point, two, {1e8});
    const std::string text = touchstone_text(s, "a case");
    std::istringstream line(text.substr(text.rfind('\n', text.size() - 2) + 1));
    double hz = 0, x[8] = {};
    line >> hz;
    for (double& value : x) line >> value;
    CHECK(hz == 1e8);
    CHECK_RELATIVE(Complex(x[2], x[3]), s.s[0](1, 0), 1e-9);
    CHECK_RELATIVE(Complex(x[4], x[5]), s.s[0](0, 1), 1e-9);
    // With gain it is not reciprocal, so that the order matters.
    CHECK(relative_difference(s.s[0](1, 0), s.s[0](0, 1)) > 1e-3);
    const PortNodes three{two[0], two[1], {"gate pin[2]", "Kelvin pin[2]"}};
    const std::string rows = touchstone_text(scattering(input, point, three, {1e8}), "a case");
    CHECK(contains(rows, "! port 3: gate pin[2] to Kelvin pin[2]\n"));
    CHECK(std::count(rows.begin(), rows.end(), '\n') == 5 + 3);
}

TEST_CASE("an output stage without supply is as good as open") {
    const Folder folder;
    write(folder.path / "a.yaml",
          case_text::replaced(case_text::base, "cgd: 14 pF, cds: 190 pF", "cgd: 0 F, cds: 0 F"));
    const Ran ran =
        run("export a.yaml --set positions=1 --port 'gate pin[1]:Kelvin pin[1]' --touchstone g.s1p "
            "--driver high_impedance --from 1MHz --to 10MHz --points 2",
            folder.path.string());
    CHECK(ran.status == 0);
    CHECK(ran.out == "Wrote 1 port of a.yaml at \"unpowered\", 2 frequencies, to g.s1p\n");
    const ImpedancePoint first = read_impedance_file(folder / "g.s1p").front();
    const Complex w(0, 2 * pi * 1e6);
    CHECK_RELATIVE(first.impedance_ohm, 1.1 + w * 9e-9 + 1.0 / (w * 2.3e-9), 1e-4);
}

TEST_CASE("ports that cannot be are errors that say what is meant") {
    const Folder folder;
    write(folder.path / "a.yaml", case_text::base);
    const auto error = [&](const std::string& arguments) {
        const Ran ran = run("export a.yaml " + arguments, folder.path.string());
        CHECK(ran.status == 2);
        CHECK(folder.entries() == 1);
        return ran.err;
    };
    const std::string gate = "--port 'gate pin[1]:Kelvin pin[1]' ";
    CHECK(error("--port 'gate pn[1]:Kelvin pin[1]' --touchstone g.s1p") ==
          "ringquell: --port: `gate pn[1]` is no node of this network; did you mean `gate pin[1]`?\n");
    CHECK(
        error("--port 'gate pin[1]' --touchstone g.s1p") ==
        "ringquell: --port: found `gate pin[1]`; expected two nodes, such as `gate pin[1]:Kelvin pin[1]`\n");
    CHECK(error("--port 'gate pin[1]:gate pin[1]' --touchstone g.s1p") ==
          "ringquell: --port: `gate pin[1]` and `gate pin[1]` are one node of this network\n");
    CHECK(error(gate + "--touchstone g.s2p") ==
          "ringquell: --touchstone: found `g.s2p`; expected a name that ends in `.s1p`, as many as there are "
          "ports\n");
    CHECK(error(gate + "--touchstone g.s1p --at fal") ==
          "ringquell: --at: found `fal`; did you mean `fall`?\n");
    CHECK(error(gate + "--touchstone g.s1p --from 0Hz") ==
          "ringquell: --from: expected a frequency above zero\n");
    CHECK(error(gate + "--touchstone g.s1p --from 1GHz --to 1MHz") ==
          "ringquell: --to: expected a frequency above --from\n");
    CHECK(error(gate + "--touchstone g.s1p --points 1") ==
          "ringquell: --points: found 1; expected 2 to 100000\n");
    CHECK(error(gate) == "ringquell: --port: goes with --touchstone FILE\n");
    CHECK(error("--touchstone g.s1p") == "ringquell: --port: missing; expected two nodes for each port\n");
    CHECK(error("") == "ringquell: --output: missing; expected the folder to write, or --touchstone FILE\n");
}
