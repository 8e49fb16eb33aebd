// What is read from files that a case names: columns, and which files they were.
#include <filesystem>
#include <set>
#include <string>

#include "ringquell/bead_file.h"
#include "support/case_text.h"
#include "support/run_command.h"

using namespace ringquell;
using case_text::base, case_text::contains, case_text::replaced;

namespace {

std::string error_of(const std::string& file, const std::vector<std::string>& settings = {}) {
    try {
        read_case(file, settings);
    } catch (const InputError& error) {
        return error.what();
    }
    return "";
}

}  // namespace

TEST_CASE("what is wrong in a file of columns is placed at the file's line") {
    const Folder folder;
    std::string text = base;
    const size_t from = text.find("  channel:"), to = text.find("gate_path:");
    text.replace(from, to - from,
                 "  channel: {transfer: {file: t.csv}, knee_voltage: 9 V}\n  capacitance: {file: c.csv}\n");
    write(folder / "a.yaml", text);
    const std::string good_t = "vgs_V,id_A\n3.5,0\n8,80\n",
                      good_c = "vds_V;ciss_pF;coss_pF;crss_pF\n0;3000;2000;900\n800;2500;200;10\n";
    const auto error = [&](const std::string& t, const std::string& c) {
        write(folder / "t.csv", t);
        write(folder / "c.csv", c);
        const std::string out = error_of(folder / "a.yaml"), before = folder / "";
        return out.starts_with(before) ? out.substr(before.size()) : out;
    };
    CHECK(error(good_t, good_c) == "");
    CHECK(error("# digitised\nvgs_V,id_A\n3.5,0\n8,80\n\n9,79\n", good_c) ==
          "t.csv:6:1: id: the current of a transfer curve is not negative and never falls");
    CHECK(error(good_t, good_c + "900;2500;200;300\n") ==
          "c.csv:4:1: crss must be above zero, and not larger than ciss or coss");
    CHECK(error(good_t, good_c + "700;2500;200;10\n") ==
          "c.csv:4:1: the rows must rise in vds, each above the one before");
    CHECK(error(good_t, "vds_V;ciss_pF;coss_pF;crss_pF\n0;3000,5;2000;900\n") ==
          "c.csv:2:1: ciss: found `3000,5 pF`, expected a capacitance such as `220 pF` (a decimal comma: "
          "write a "
          "point)");
    CHECK(error("vgs_V,id_A\n3,5,0\n8,80\n", good_c) ==
          "t.csv:2:1: found 3 values in the row, expected 2 (a decimal comma parts the columns, too: write "
          "points)");
    std::string wide = "\xff\xfe";
    for (const char c : good_t) wide += {c, '\0'};
    CHECK(error(wide, good_c) == "t.csv: the text is UTF-16; expected UTF-8 (save the file as that)");
    // Points in the case are placed there.
    write(folder / "c.csv", good_c);
    CHECK(error_of(folder / "a.yaml",
                   {"device.channel.transfer={points: [[3 V, 0 A], [8 V, 80 A], [9 V, 79 A]]}"}) ==
          "--set: device.channel.transfer.points[3]: the current of a transfer curve is not negative and "
          "never falls");
}

TEST_CASE("all files that a case is read from are listed, the case first") {
    const Folder folder;
    std::string text = base;
    const size_t from = text.find("device:"), to = text.find("gate_path:");
    text.replace(from, to - from, "device: {file: x.yaml}\n");
    text = replaced(text, "inductance: 7 nH", "inductance: 7 nH, bead: {file: bead.yaml}");
    write(folder / "x.yaml",
          "kind: mosfet\ngate_resistance: 1 ohm\nchannel: {transfer: {file: t.csv}, knee_voltage: 9 V}\n"
          "capacitance: {file: c.csv}\n");
    write(folder / "t.csv", "vgs_V,id_A\n3.5,0\n8,80\n");
    write(folder / "c.csv", "vds_V,ciss_pF,coss_pF,crss_pF\n0,3000,2000,900\n800,2500,200,10\n");
    write(folder / "bead.yaml", "curve: b.csv\ndc_resistance: 0 ohm\n");
    write(folder / "b.csv", "f_MHz,R_ohm,X_ohm\n1,0.004,0.5\n3,0.04,1.5\n10,0.4,5\n30,3.6,14\n100,25,25\n");
    const std::string file = folder / "a.yaml";
    write(file, text);
    std::vector<std::string> read;
    read_case(file, {}, &read);
    REQUIRE(!read.empty());
    CHECK(read.front() == file);
    std::set<std::string> wanted{file}, found(read.begin(), read.end());
    for (const char* name : {"x.yaml", "t.csv", "c.csv", "bead.yaml", "b.csv"}) wanted.insert(folder / name);
    CHECK(found == wanted);
    read.clear();
    read_bead_file(folder / "bead.yaml", {1e6, 100e6}, &read);
    CHECK(read == std::vector{folder / "bead.yaml", folder / "b.csv"});
}
