// SPDX-License-Identifier: GPL-3.0-or-later
#include <gtest/gtest.h>

#include "sample.h"

namespace holdfast::report {
namespace {

const std::string header =
    "leg,row,kind,what,part,face_from,face,rail,along_from_m,along_to_m,gap_m,turn_deg,distance_m,moves,time_s,"
    "total_distance_m,total_moves,total_time_s,clearance_m,clearance_is_at_least,clearance_part,hand_x,hand_y,hand_z,"
    "zones,tether_m,hooks,carried\r\n";

TEST(RouteCsv, HasARecordForEachRow) {
  const sample::Desk desk;
  EXPECT_EQ(
      csv(desk.context, sample::found()),
      header +
          "1,0,start,start,drum,zenith,zenith,drum-1,0,0,0,0,0,0,5,0,0,5,0.6,no,drum,0.5,0,-2.07,,,,\r\n"
          "1,1,along,along 1.25 m,drum,zenith,zenith,drum-1,0.25,1.5,0,0,1.25,3,6.25,1.25,3,11.25,0.845,yes,,1.75,"
          "0,-2.07,,,,\r\n"
          "1,2,gap,\"across a gap of 0.52 m, along 2.40 m\",drum,zenith,port,drum-2,0,2.4,0.515,0,3.001,6,25,"
          "4.251,9,36.25,0.5451,no,drum,0,0,0,view frost,,,\r\n"
          "2,0,start,start,drum,port,port,drum-2,0,0,0,0,0,0,5,4.251,9,41.25,0.6,no,drum,0,0,0,,,,\r\n"
          "2,1,edge,round an edge of 80 deg,drum,aft,aft,drum-1,0,0,0.4,80,1.1,1,9,5.351,10,50.25,0.6,no,drum,0,0,"
          "0,,,,\r\n"
          "2,2,part-change,\"over to mast, turning 90 deg, along 0.45 m\",mast,aft,aft,mast-1,0,0.45,0.6,90,0.9,2,"
          "3610,6.251,12,3660.25,0.6,no,drum,0,0,0,,,,\r\n");
}

TEST(RouteCsv, IsSiWhateverTheTextsUnits) {
  const sample::Desk metric, imperial({.imperial = true});
  EXPECT_EQ(csv(imperial.context, sample::found()), csv(metric.context, sample::found()));
}

TEST(RouteCsv, OfARefusalIsTheHeaderAlone) {
  const sample::Desk desk;
  EXPECT_EQ(csv(desk.context, sample::refused({sample::cause(route::CauseKind::Reach)})), header);
}

TEST(CheckCsv, HasARecordForEachFinding) {
  const sample::Desk desk;
  check::CheckResult result;
  auto finding = sample::finding(check::FindingKind::RailLoad, check::Severity::Error);
  finding.value = 700, finding.limit = 830;
  result.findings = {finding};
  EXPECT_EQ(csv(desk.context, result),
            "severity,kind,subject,other,value,limit,count,x,y,z,file,line,text\r\n"
            "error,rail-load,drum-1,,700,830,1,1,2,3,models/sample/structure.yaml,12,"
            "\"rail drum-1: load limit 700 N, and 830 N are required of a rail for hands\"\r\n");
}

}  // namespace
}  // namespace holdfast::report
