// Values a slip of the unit away from what boards have.
#include <filesystem>
#include <string>

#include "support/case_text.h"
#include "test_paths.h"

using namespace ringquell;
using case_text::base, case_text::contains, case_text::read, case_text::replaced;

TEST_CASE("a slip of a thousand in gain, threshold, knee, bus, load or drive is a warning") {
    const auto text = [](const std::string& setting, const std::string& channel) {
        const Case in =
            read(replaced(base, "channel: {transconductance: 38 S, output_conductance: 60 mS}", channel),
                 {"operation.drive={high: 18 V, low: -4 V}", setting});
        const std::string key = setting.substr(0, setting.find('='));
        std::string out;
        for (const Warning& w : in.warnings)
            if (w.key == key) out = w.text;
        return out;
    };
    const std::string formula = "channel: {threshold: 4.2 V, gain: 5.2 A, exponent: 1.7, knee_voltage: 8 V}";
    struct Slip {
        const char *good, *slip, *warning;
    };
    for (const Slip& s : {
             Slip{
                 "device.channel.gain=5.2 A", "device.channel.gain=5.2 kA",
                 "5.2 kA is above what a channel at 1 V above threshold has (100 mA to 200 A): a unit slip?"},
             Slip{
                 "device.channel.gain=5.2 A", "device.channel.gain=5.2 mA",
                 "5.2 mA is below what a channel at 1 V above threshold has (100 mA to 200 A): a unit slip?"},
             Slip{"device.channel.threshold=4.2 V", "device.channel.threshold=4.2 mV",
                  "4.2 mV is below what a channel has (500 mV to 8 V): a unit slip?"},
             Slip{"device.channel.knee_voltage=8 V", "device.channel.knee_voltage=8 mV",
                  "8 mV is below what a channel has (200 mV to 30 V): a unit slip?"},
             Slip{"operation.bus_voltage=800 V", "operation.bus_voltage=800 kV",
                  "800 kV is above what a bus has (12 V to 6.5 kV): a unit slip?"},
             Slip{"operation.load_current=240 A", "operation.load_current=240 mA",
                  "240 mA is below what a switch of paralleled devices has (2 A to 5 kA): a unit slip?"},
             Slip{"operation.drive.high=18 V", "operation.drive.high=180 V",
                  "180 V is above what a drive has (3 V to 25 V): a unit slip?"},
             Slip{"operation.drive.low=-4 V", "operation.drive.low=-4 kV",
                  "-4 kV is below what a drive has (-25 V to 5 V): a unit slip?"},
         }) {
        CAPTURE(s.slip);
        CHECK(text(s.good, formula) == "");
        CHECK(text(s.slip, formula) == s.warning);
    }
}

TEST_CASE(
    "a slip of a thousand in either die of a cascode is a warning, the JFET's threshold being negative") {
    const auto text = [](const std::string& setting) {
        const Case in =
            read_case(std::string(RINGQUELL_TEST_DATA) + "/reference/pair-cascode.yaml",
                      {"device.mosfet.channel={threshold: 4.7 V, gain: 25 A, knee_voltage: 1 V}",
                       "device.jfet.channel={threshold: -8.5 V, gain: 6.8 A, knee_voltage: 5 V}", setting});
        const std::string key = setting.substr(0, setting.find('='));
        for (const Warning& w : in.warnings)
            if (w.key == key) return w.text;
        return std::string();
    };
    CHECK(text("device.jfet.channel.threshold=-8.5 V") == "");
    CHECK(text("device.jfet.channel.threshold=-8.5 mV") ==
          "-8.5 mV is above what a normally-on JFET has (-25 V to -1 V): a unit slip?");
    CHECK(text("device.jfet.channel.threshold=-8.5 kV") ==
          "-8.5 kV is below what a normally-on JFET has (-25 V to -1 V): a unit slip?");
    CHECK(text("device.mosfet.channel.threshold=4.7 V") == "");
    CHECK(text("device.mosfet.channel.threshold=4.7 mV") ==
          "4.7 mV is below what a MOSFET has (500 mV to 8 V): a unit slip?");
    for (const char* die : {"mosfet", "jfet"}) {
        const std::string channel = std::string("device.") + die + ".channel.";
        CHECK(text(channel + "gain=6.8 A") == "");
        CHECK(contains(text(channel + "gain=6.8 kA"), "a unit slip?"));
        CHECK(contains(text(channel + "gain=6.8 mA"), "a unit slip?"));
        CHECK(text(channel + "knee_voltage=5 V") == "");
        CHECK(contains(text(channel + "knee_voltage=5 mV"), "a unit slip?"));
        CHECK(contains(text(channel + "knee_voltage=5 kV"), "a unit slip?"));
    }
}

TEST_CASE(
    "a slip of the unit in a lead's or a leg's resistance, or in a junction's temperature, is a warning") {
    const auto text = [](const std::string& setting) {
        const std::string key = setting.substr(0, setting.find_first_of("=["));
        for (const Warning& w : read(base, {"leg={complementary: {capacitance: 90 pF}}",
                                            "device.gate_resistance.per_kelvin=0.3 %", setting})
                                    .warnings)
            if (w.key == key) return w.text;
        return std::string();
    };
    for (const char* lead : {"gate", "drain", "source", "kelvin"}) {
        const std::string key = std::string("device.package.") + lead + "_resistance";
        CHECK(text(key + "=2 mohm") == "");
        CHECK(contains(text(key + "=2 ohm"), "2 ohm is above what a "));
        CHECK(contains(text(key + "=0.5 uohm"), "lead has (100 uohm to 100 mohm): a unit slip?"));
    }
    CHECK(text("leg.resistance=5 mohm") == "");
    CHECK(text("leg.resistance=5 ohm") ==
          "5 ohm is above what a commutation loop has (100 uohm to 100 mohm): a unit slip?");
    CHECK(text("junction_temperature[2]=150 degC") == "");
    CHECK(text("junction_temperature[2]=1500 degC") ==
          "1500 degC is above what a junction has (-40 degC to 175 degC): a unit slip?");
}

TEST_CASE("no demonstration and no reference case is warned of for its values") {
    for (const std::string& folder :
         {std::string(RINGQUELL_CASES), std::string(RINGQUELL_TEST_DATA) + "/reference"})
        for (const auto& entry : std::filesystem::directory_iterator(folder)) {
            if (entry.path().extension() != ".yaml") continue;
            CAPTURE(entry.path().string());
            CHECK(read_case(entry.path().string()).warnings.empty());
        }
}
